"""Shaking and separating: one contact after another, which layer is where, what is carried over.

After each shake droplets of the water layer hang in the organic one (made of that layer, salts
included); they settle with time and are cleared by a concentrated salt solution. At the
interface a little of the organic layer goes with the water layer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .at_once import turned_over_at_once
from .contact import Contact, contact
from .equilibrium import SHUT, Split
from .facts import Facts, ShakeFacts
from .inventory import Inventory
from .layers import solvent_fractions
from .materials import poured
from .plan import INTERFACES, WASTE, Parting
from .pouring import pour_everything, rinsed_by
from .slow import happened, settled_again, turned_over
from .state import Flask, State, empty_flask
from .sums import over_rows, share_of
from .water import salt_mmol

Array = NDArray[np.float64]

CONCENTRATED_SALT_MOL_L = 2.0
_MOST_DROPLETS, _MOST_CUT = 0.5, 0.3
_LEAST_GEL_MMOL = 0.1
# Share of the draws that both one layer and two have to have: what a 5 to 95 % band leaves out.
EDGE = 0.05
WASTE_STREAM_OF_LAYER = "aqueous"


@dataclass(frozen=True)
class Layers:
    """The two layers as separate liquids, with what each carries of the other."""

    organic: Flask
    aqueous: Flask
    facts: ShakeFacts


def shake(inv: Inventory, state: State, contents: Flask, step: Parting) -> tuple[State, Layers]:
    """Shake the contents of the funnel, let it settle, and tell the layers apart."""
    capacity = inv.setup.glassware.funnel_mL
    change = turned_over_at_once(inv, contents.total())
    state = state.with_input(change)
    totals = contents.total() + change
    volume = inv.volume_mL(totals)
    touched = contact(inv, totals, capacity_mL=capacity)
    state = state.with_air(touched.escaped)
    split = touched.split
    change, turned = turned_over(
        inv, split.aqueous, split.organic, split.pH, inv.practice["shake_min"])
    if happened(turned):
        state = state.with_input(change)
        split = settled_again(inv, split, change, turned, SHUT)
    layers = _settle(inv, split, step)
    facts = _shake_facts(inv, contents, touched, split, turned, volume / capacity, layers)
    return state, Layers(layers[0], layers[1], facts)


def _settle(inv: Inventory, split: Split, step: Parting) -> tuple[Flask, Flask]:
    """Droplets stay in the organic layer; what is at the interface goes with one of the two.

    With the water layer goes a little of the organic one, more where a gel holds it; with the
    organic layer a little water, on top of the droplets.
    """
    organic_mL, aqueous_mL = inv.volume_mL(split.organic), inv.volume_mL(split.aqueous)
    practice = inv.practice
    fractions = solvent_fractions(inv, split.organic)
    neat = 1.0 - over_rows(fractions)
    per_mL = (over_rows(fractions * inv.droplets_uL_mL) + neat * practice["neat_droplets_uL_mL"])
    per_mL = per_mL * 1e-3
    floor = practice["droplet_floor"]
    gel = _gel_mmol(inv, split)
    slower = np.where(gel > _LEAST_GEL_MMOL, practice["gel_slowing"], 1.0)
    stays = floor + (1.0 - floor) * np.exp(
        -step.settle_min / (practice["droplet_settling_min"] * slower))
    safe = np.maximum(aqueous_mL, 1e-9)
    strong = salt_mmol(inv, split.aqueous) / safe > CONCENTRATED_SALT_MOL_L
    cleared = np.where(strong, practice["brine_clearing"], 1.0)
    with_water = step.interface == INTERFACES[0]
    kept_mL = 0.0 if with_water else np.where(organic_mL > 0, practice["interface_mL"], 0.0)
    drops = np.minimum((per_mL * organic_mL * stays * cleared + kept_mL) / safe, _MOST_DROPLETS)
    lost_mL = gel * practice["gel_organic_mL_per_mmol"] + (
        practice["organic_cut_mL"] if with_water else 0.0)
    cut = np.where(organic_mL > 0, lost_mL / np.maximum(organic_mL, 1e-9), 0.0)
    cut = np.where(aqueous_mL > 0, np.minimum(cut, _MOST_CUT), 0.0)
    base = empty_flask(inv)
    pH = split.pH
    organic = replace(base, organic=split.organic * (1.0 - cut), droplets=split.aqueous * drops,
                      pH=pH)
    aqueous = replace(base, aqueous=split.aqueous * (1.0 - drops), organic=split.organic * cut,
                      solid=split.solid, pH=pH)
    return organic, aqueous


def _gel_mmol(inv: Inventory, split: Split) -> Array:
    """Magnesium that is out as hydroxide [mmol], (N,)."""
    return np.zeros(inv.count) if inv.magnesium is None else split.solid[inv.magnesium]


def _density(inv: Inventory, amounts: Array) -> Array:
    volume = inv.volume_mL(amounts)
    return share_of(inv.mass_g(amounts), volume)


def _shake_facts(
    inv: Inventory, contents: Flask, touched: Contact, split: Split,
    turned: Mapping[str, Array], fill: Array, layers: tuple[Flask, Flask],
) -> ShakeFacts:
    organic_mL, aqueous_mL = inv.volume_mL(split.organic), inv.volume_mL(split.aqueous)
    two = (organic_mL > 0) & (aqueous_mL > 0)
    organic_density = _density(inv, layers[0].liquid())
    aqueous_density = _density(inv, split.aqueous)
    moved = np.abs(split.aqueous - contents.aqueous - contents.droplets)
    return ShakeFacts(
        two_layers=two.astype(np.float64),
        organic_on_top=(organic_density < aqueous_density).astype(np.float64),
        organic_density=organic_density, aqueous_density=aqueous_density,
        organic_mL=organic_mL, aqueous_mL=aqueous_mL, pH=split.pH, fill=fill,
        gas_mmol=touched.gas_mmol, co2_Pa=touched.co2_Pa, escaped=touched.escaped,
        stoppered_Pa=touched.stoppered_Pa, reacted=turned,
        celsius=contents.nominal_C, moved=moved, gel_mmol=_gel_mmol(inv, split))


def _pick(first: Flask, second: Flask, which: Array) -> Flask:
    """Per draw the first flask where ``which`` is 1, else the second."""
    def choose(a: Array, b: Array) -> Array:
        return np.where(which > 0, a, b)
    return replace(first, organic=choose(first.organic, second.organic),
                   droplets=choose(first.droplets, second.droplets),
                   aqueous=choose(first.aqueous, second.aqueous),
                   solid=choose(first.solid, second.solid))


def _organic_kept(layers: Layers, keep: str, before: Array | None) -> Array:
    """Whether the organic layer is the one kept, 1 or 0 per draw.

    The layer asked for is a place, upper or lower, at a shake that made two. A single layer has no
    place: it goes where the same kind of layer went at the shake before (``before``), as whoever
    holds the funnel would pour it; a first shake that makes one layer leaves it to be kept.
    """
    facts = layers.facts
    two = facts.two_layers > 0
    as_placed = facts.organic_on_top if keep == "upper" else 1.0 - facts.organic_on_top
    single = (facts.organic_mL > 0).astype(np.float64) if before is None else before
    return np.where(two, as_placed, single)


def _kept_and_other(layers: Layers, organic_kept: Array) -> tuple[Flask, Flask]:
    kept = _pick(layers.organic, layers.aqueous, organic_kept)
    other = _pick(layers.aqueous, layers.organic, organic_kept)
    return kept, other


def part(inv: Inventory, state: State, step: Parting) -> tuple[State, Facts]:
    """Carry out an extraction, a wash or a plain separation."""
    state, funnel = _into_funnel(inv, state, step.flask)
    repeats_other = step.pools_kept
    pooled: Flask | None = None
    kept = other = funnel
    organic_kept: Array | None = None
    shakes = []
    for number in range(step.shakes):
        if step.fresh is not None and step.fresh.each_mL is not None:
            fresh = poured(inv, step.fresh.material, step.fresh.each_mL)
            state = state.with_input(fresh.total())
            if number == 0 and step.rinses_out():
                state, fresh = rinsed_by(inv, state, step.flask, fresh)
            funnel = funnel.plus(fresh)
        state, layers = shake(inv, state, funnel, step)
        shakes.append(layers.facts)
        organic_kept = _organic_kept(layers, step.keep, organic_kept)
        kept, other = _kept_and_other(layers, organic_kept)
        set_aside, funnel = (kept, other) if repeats_other else (other, kept)
        pooled = set_aside if pooled is None else pooled.plus(set_aside)
    assert pooled is not None
    kept, other = (pooled, funnel) if repeats_other else (funnel, pooled)
    kept = replace(kept, in_funnel=step.keep == "upper")
    state = _put(state, step.keep_in, kept)
    state = _put(state, step.other_in, replace(other, in_funnel=False))
    problems = _problems(shakes, repeats_other=repeats_other)
    minutes = step.shakes * (step.settle_min + 3.0)
    return state, Facts(shakes=tuple(shakes), problems=problems, minutes=minutes,
                        gas_mmol=np.asarray(sum(s.gas_mmol for s in shakes)))


def _into_funnel(inv: Inventory, state: State, name: str) -> tuple[State, Flask]:
    """Bring a flask's contents into the funnel; standing in it already costs nothing."""
    flask = state.flasks[name]
    if flask.in_funnel:
        return state.with_flask(name, empty_flask(inv)), replace(flask, in_funnel=False)
    return pour_everything(inv, state, name)


def _put(state: State, name: str, what: Flask) -> State:
    if name == WASTE:
        return state.with_waste(WASTE_STREAM_OF_LAYER, what.total())
    return state.pouring_into(name, what)


def _problems(shakes: list[ShakeFacts], *, repeats_other: bool) -> tuple[str, ...]:
    """What the step's report says of shakes that made one layer, or nearly did."""
    return (*_single_layers(shakes, repeats_other=repeats_other), *_on_the_edge(shakes))


def _single_layers(shakes: list[ShakeFacts], *, repeats_other: bool) -> Iterator[str]:
    single = [i for i, s in enumerate(shakes) if s.two_layers[0] == 0]
    if single and single[0] == 0:
        yield "one layer only"
    elif single:
        again = "the layer not kept" if repeats_other else "the kept layer"
        yield f"one layer only from portion {single[0] + 1} on: it stays with {again}"


def _on_the_edge(shakes: list[ShakeFacts]) -> Iterator[str]:
    """The first shake that makes one layer in some draws and two in others, no side of them in
    fewer than ``EDGE``."""
    for number, shake in enumerate(shakes, 1):
        single = float(np.mean(shake.two_layers == 0))
        if EDGE <= single <= 1.0 - EDGE:
            where = f" at portion {number}" if len(shakes) > 1 else ""
            yield (f"on the edge of one layer and two{where}: by what is uncertain about the "
                   f"liquids there is one layer only in {100 * single:.0f} of 100 cases, so look "
                   "for the line before you pour")
            return
