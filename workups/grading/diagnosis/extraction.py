"""Extractions left out, layers not mixed or partly lost, washes that took product.

How wet a layer was says how much agent it asked for, never how it was extracted: these are judged
by masses, volumes and the portions on record, and by drying as it goes with the steps recorded.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from workups.chemistry.plan import Extract, Parting, Wash

from .crossing import crossings
from .scenarios import Bench, Maker, Scenario, middles, scaled

# Share of the product that is left, lowest and highest (common practice, no source).
PARTLY_LOST, WRONG_LAYER = (0.80, 0.99), (0.0, 0.10)
# Share of what a thorough shake would bring across that a poor one does (common practice, no
# source), and the least loss at worst that is worth naming.
MIXED, LEAST_LOSS = (0.05, 0.95), 0.02
MORE_PORTIONS, MORE_VOLUME = 3, 1.5


def _in_portions(bench: Bench) -> list[Extract]:
    return [s for s in bench.plan.of(Extract) if s.portions > 1]


def single_portion(bench: Bench) -> Iterator[Scenario]:
    """Each extraction in portions done with all its solvent at once."""
    for step in _in_portions(bench):
        at_once = replace(step, portions=1, volume_mL=step.volume_mL * step.portions)
        yield from _changed(bench, at_once)


def one_fewer(bench: Bench) -> Iterator[Scenario]:
    """Each extraction of three or more portions with one fewer."""
    for step in _in_portions(bench):
        if step.portions > 2:
            yield from _changed(bench, replace(step, portions=step.portions - 1))


def only_first(bench: Bench) -> Iterator[Scenario]:
    """Each extraction in portions with its first portion only."""
    for step in _in_portions(bench):
        yield from _changed(bench, replace(step, portions=1))


def more_washing(bench: Bench) -> Iterator[Scenario]:
    """More and larger water washes than on record."""
    for step in bench.plan.of(Wash):
        if step.material == "water":
            more = replace(
                step, portions=step.portions + MORE_PORTIONS, volume_mL=step.volume_mL * MORE_VOLUME
            )
            yield from _changed(bench, more)


def _changed(bench: Bench, step: Parting) -> Iterator[Scenario]:
    sample = bench.tried(bench.plan.replacing(step))
    if sample is not None:
        portions = {step.id: step.shakes} if step.pools_kept else {}
        yield Scenario(replace(sample, drying=bench.sample.drying), portions=portions)


def _lost(bench: Bench, low: float, high: float, count: int) -> Iterator[Scenario]:
    if bench.plan.of(Parting):
        for target in bench.targets:
            yield scaled(bench, target, middles(low, high, count))


def not_mixed(bench: Bench) -> Iterator[Scenario]:
    """Contact far from equilibrium: a part of what had to cross to the other layer did not.

    What was in the layer it belongs to from the start cannot be left behind by poor shaking.
    """
    for target in bench.targets:
        for found in crossings(bench.case.run, target):
            kept = found.kept(middles(*MIXED, 16))
            if float(np.median(kept.min(axis=1))) > 1.0 - LEAST_LOSS:
                continue
            held = bench.sample.holdings[target]
            gap = float(np.median(np.abs(np.diff(kept, axis=1)).mean(axis=1)))
            yield Scenario(
                bench.sample.holding(target, held.product_times(kept)),
                target,
                width_g=0.5 * gap * float(np.median(held.product)),
            )


def layer_partly_lost(bench: Bench) -> Iterator[Scenario]:
    """The interface was cut through the product layer."""
    yield from _lost(bench, *PARTLY_LOST, 8)


def wrong_layer(bench: Bench) -> Iterator[Scenario]:
    """Next to nothing is left: the layer with the product went away."""
    yield from _lost(bench, *WRONG_LAYER, 10)


MAKERS: Mapping[str, Maker] = {
    "single-portion": single_portion,
    "one-portion-fewer": one_fewer,
    "later-extractions-skipped": only_first,
    "not-mixed": not_mixed,
    "layer-partly-lost": layer_partly_lost,
    "wash-took-product": more_washing,
    "wrong-layer": wrong_layer,
}
