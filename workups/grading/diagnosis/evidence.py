"""What speaks for and against an explanation, in sentences with the numbers.

Whatever of a record moves an explanation against another one is named: the likelihood is a
product over weighings, signs of purity, drying, volumes, portions, ticks and flask numbers, and
each factor that differs by more than ``FITS`` has its sentence here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from workups.words.numbers import fixed, interval
from workups.words.numbers import mass as shown

from ..assessment import Band
from ..slips import NOTHING_WRONG, RECORDING, SLIPS, SOMETHING_ELSE
from .judging import (
    counted_factor,
    drying_seen_factor,
    likeliest_source,
    portions_done,
    target_density,
    volume_density,
)
from .record import BenchRecord, DryingSeen, MassRecord
from .samples import Holding
from .scenarios import Bench, Scenario
from .weighing import count_factor
from .witnesses import one_witness

FITS = 2.0
_SOLVENT_KEYS = frozenset({"solvent-left", "not-constant", "weighed-warm"})


@dataclass(frozen=True)
class Rival:
    """What an explanation is held against: another way, and its words (“with …”)."""

    way: Scenario
    words: str


def expected_band(mass: MassRecord, way: Scenario) -> Band:
    """Mass that the flask would hold [g]: median with the 5th and 95th percentile.

    Of what was done it is the band that the yield is judged by, from the whole run.
    """
    held = way.sample.holdings[mass.target]
    if held.weighed is not None:
        return held.weighed
    low, middle, high = np.percentile(held.mass_g, [5.0, 50.0, 95.0])
    return Band(float(middle), float(low), float(high), "g")


def evidence(
    key: str,
    bench: Bench,
    record: BenchRecord,
    way: Scenario,
    rival: Rival,
    class_bands: Mapping[str, Band],
) -> tuple[str, ...]:
    """Sentences for the TA; the first ones are about the masses.

    ``rival`` is nothing wrong; for nothing wrong itself, and for what is not on the list, the
    likeliest other explanation.
    """
    found: list[str] = []
    for mass in record.masses:
        if way.hit in ("", mass.target):
            found.extend(_mass_sentences(key, bench, mass, way, class_bands))
        if mass.target in {way.hit, rival.way.hit} or "" in {way.hit, rival.way.hit}:
            found.extend(_handling(bench, mass, way, rival))
            found.extend(_notes(bench, mass, way, rival))
    found.extend(_drying_sentences(record, way, rival))
    found.extend(_volume_sentences(bench, record, way, rival))
    found.extend(_portion_sentences(bench, record, way, rival))
    return tuple(found)


def _verdict(ratio: float, rival: Rival) -> str:
    """How a part of the record bears on an explanation; empty where it tells nothing."""
    if ratio >= FITS:
        return f" This fits better than with {rival.words}."
    return f" This fits less well than with {rival.words}." if ratio <= 1.0 / FITS else ""


def _g(value: float, mass: MassRecord) -> str:
    return shown(value, mass.readability_g)


def _range(band: Band) -> str:
    return interval(band.low, band.high, "g")


def _mass_sentences(
    key: str, bench: Bench, mass: MassRecord, way: Scenario, class_bands: Mapping[str, Band]
) -> Iterator[str]:
    name = bench.case.inventory.names[mass.target]
    usual = expected_band(mass, Scenario(bench.sample))
    found = f"{name[:1].upper()}{name[1:]}: {_g(mass.net_g, mass)} by the last full reading"
    if mass.taken_out_g:
        found += f", {_g(mass.taken_out_g, mass)} of it taken out before"
    as_recorded = f"the steps as recorded lead to {_range(usual)}"
    if key == NOTHING_WRONG:
        yield f"{found}; {as_recorded}, the class is at {_range(class_bands[mass.target])}."
    elif key == SOMETHING_ELSE:
        yield f"{found}; {as_recorded}. Kept open for whatever is not on the list."
    elif SLIPS[key].kind == RECORDING and key not in _SOLVENT_KEYS:
        yield f"{found}; {as_recorded}."
        yield from _recording(key, bench, mass, way)
    else:
        yield (
            f"{found}. With this, {_range(expected_band(mass, way))} would be expected; "
            f"{as_recorded}."
        )
    if key in _SOLVENT_KEYS or abs(mass.fall_g) > _agreeing_g(mass):
        yield _trend(mass)


def _agreeing_g(mass: MassRecord) -> float:
    """How far two readings of one balance may be apart and still agree [g]."""
    return 2.0 * mass.readability_g + 1e-9


def _trend(mass: MassRecord) -> str:
    if len(mass.gross) == 1:
        return "There is one full reading, so whether the mass was constant is not known."
    fall = mass.fall_g
    if abs(fall) <= _agreeing_g(mass):
        return (
            f"The full readings agree within {_g(2.0 * mass.readability_g, mass)}, which "
            "does not exclude solvent if nothing was done between them."
        )
    way = "fell" if fall > 0 else "rose"
    return f"The full readings {way} by {_g(abs(fall), mass)} from the first to the last."


def _recording(key: str, bench: Bench, mass: MassRecord, way: Scenario) -> Iterator[str]:
    usual = expected_band(mass, Scenario(bench.sample))
    off = mass.net_g - usual.nominal
    side = "above" if off > 0 else "below"
    if key == "tare-gross-swapped":
        if mass.weighed_g < 0:
            yield "The full reading is below the tare, which cannot be for one flask."
        size = _range(usual)
        yield f"Without its sign the difference is {_g(abs(mass.weighed_g), mass)}, against {size}."
    elif key == "digits-swapped":
        yield (
            f"It is {_g(abs(off), mass)} {side} the middle of that. Two neighbouring digits "
            "that change places move a reading by a multiple of 9 in their place. It would be "
            f"{_changed_reading(mass, likeliest_source(bench, mass, way))}."
        )
    elif key == "volume-read-early":
        return
    elif key in ("factor-1000", "wrong-decimal"):
        yield (
            f"The readings run from {_g(min(mass.tare, *mass.gross), mass)} to "
            f"{_g(max(mass.tare, *mass.gross), mass)}; an empty flask weighs some tens of "
            "grams."
        )
    else:
        yield from _something_on_the_pan(key, mass, off, side)


def _changed_reading(written: MassRecord, source: MassRecord) -> str:
    """Which reading differs from what was on the display, in words."""
    if source.tare != written.tare:
        return "the tare"
    at = next((i for i, g in enumerate(source.gross) if g != written.gross[i]), 0)
    if len(written.gross) == 1:
        return "the full reading"
    return "the last full reading" if at == len(written.gross) - 1 else f"full reading no. {at + 1}"


def _something_on_the_pan(key: str, mass: MassRecord, off: float, side: str) -> Iterator[str]:
    sizes = {
        "object-at-gross": "Chips or a label weigh 0.05 to 0.3 g, a stir bar 1 to 8 g, a stopper "
        "5 to 20 g, a cork ring 20 to 80 g (estimates).",
        "another-flask": "Two flasks of one kind differ by 0.1 to 5 g (estimate).",
    }
    size = sizes.get(key, sizes["object-at-gross"])
    yield f"It is {_g(abs(off), mass)} {side} the middle of that. {size}"


def _handling(bench: Bench, mass: MassRecord, way: Scenario, rival: Rival) -> Iterator[str]:
    """Ticks, flask numbers and the count of full readings, where they tell two ways apart."""
    mine, other = (w.reading_of(mass.target) for w in (way, rival.way))
    ratio = mine.ticks(mass) / max(other.ticks(mass), 1e-12)
    if said := _verdict(ratio, rival):
        yield f"{_on_the_pan(mass)}{said}"
    asked = bench.asked[mass.target]
    counts = (count_factor(mass, r.one_only, asked) for r in (mine, other))
    ratio = next(counts) / next(counts)
    if said := _verdict(ratio, rival):
        yield f"Full readings on record: {len(mass.gross)}, of {asked} asked for.{said}"


def _on_the_pan(mass: MassRecord) -> str:
    items = [
        f"{', '.join(items)} at {when} only"
        for items, when in (
            (mass.gross_extra, "the full weighing"),
            (mass.tare_extra, "the tare"),
        )
        if items
    ]
    ticked = f"Ticked as on the pan: {'; '.join(items)}. " if items else ""
    same = "differ" if mass.other_flask_number else "do not differ"
    return f"{ticked}The flask numbers on record {same}."


def _notes(bench: Bench, mass: MassRecord, way: Scenario, rival: Rival) -> Iterator[str]:
    """Signs of purity that tell two ways apart, and all that were marked as not agreeing."""
    if not mass.noted:
        return
    mine, other = (_sign_chances(bench, mass, w) for w in (way, rival.way))
    for note, here, there in zip(mass.noted, mine, other, strict=True):
        said = _verdict(here / max(there, 1e-9), rival)
        if said or note.disagrees:
            words = f"melting from {note.low_C:g} °C" if note.kind == "mp" else f"“{note.words}”"
            marked = ", marked as not agreeing" if note.disagrees else ""
            yield f"Noted for {note.kind}: {words}{marked}.{said}"


def _sign_chances(bench: Bench, mass: MassRecord, way: Scenario) -> list[float]:
    """Probability of each sign under a way, draws weighted by how well they fit the weighings."""
    held: Holding = way.sample.holdings[mass.target]
    weight = target_density(bench, mass, way, witnesses=False) + 1e-300
    weight = weight / np.sum(weight)
    signs = (one_witness(note, held, mass.target, bench.tables) for note in mass.noted)
    return [float(np.sum(weight * sign)) for sign in signs]


def _drying_sentences(record: BenchRecord, way: Scenario, rival: Rival) -> Iterator[str]:
    for seen in record.drying:
        ratio = drying_seen_factor(seen, way) / max(drying_seen_factor(seen, rival.way), 1e-300)
        said = _verdict(ratio, rival)
        if not said:
            continue
        used, need = way.sample.drying.get(seen.step.id), ""
        if used is not None:
            low, high = np.percentile(used.needed_g, [5.0, 95.0])
            need = f" The water would ask for {fixed(float(low), 1)} to {fixed(float(high), 1)} g."
        yield f"{_agent(seen)}{need}{said}"


def _agent(seen: DryingSeen) -> str:
    record = seen.record
    if record is None or record.agent_mass_g is None:
        return "No mass of drying agent is on record."
    looks = [t for t in (record.agent_look, record.liquid_look) if t]
    looked = f", looking {' and '.join(looks)}" if looks else ""
    return f"Recorded: {record.agent_mass_g:g} g of drying agent{looked}."


def _volume_sentences(
    bench: Bench, record: BenchRecord, way: Scenario, rival: Rival
) -> Iterator[str]:
    """Volumes that tell two ways apart, with what each of them would give."""
    for key, mL in record.volumes_mL.items():
        here, there = (w.sample.volumes_mL.get(key) for w in (way, rival.way))
        usual = bench.sample.volumes_mL.get(key)
        if here is None or there is None or usual is None or mL <= 0:
            continue
        said = _verdict(volume_density(mL, here) / max(volume_density(mL, there), 1e-300), rival)
        if said:
            mine, recorded = (fixed(float(np.median(v)), 0) for v in (here, usual))
            gives = f"this would give about {mine} mL, the steps as recorded {recorded} mL"
            if here is usual:
                gives = f"the steps as recorded give about {recorded} mL"
            yield f"{mL:g} mL was read in ‘{key[1]}’; {gives}.{said}"


def _portion_sentences(
    bench: Bench, record: BenchRecord, way: Scenario, rival: Rival
) -> Iterator[str]:
    for step, told in record.portions.items():
        done, other = (portions_done(bench, w, step) for w in (way, rival.way))
        said = _verdict(counted_factor(told, done) / counted_factor(told, other), rival)
        if said:
            yield f"Portions on record: {told}; this has {done}.{said}"
