"""What speaks for and against an explanation, in sentences with the numbers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from ..assessment import Band
from ..numbers import fixed, interval
from ..numbers import mass as shown
from ..slips import NOTHING_WRONG, RECORDING, SLIPS, SOMETHING_ELSE
from .drying_marks import AS_NEEDED
from .judging import target_density
from .record import BenchRecord, DryingSeen, MassRecord
from .samples import Holding
from .ways import Bench, Way
from .witnesses import one_witness

FITS, DOES_NOT_FIT = 2.5, 0.4
_DRYING_KEYS = frozenset({"no-agent", "too-little-agent", "aqueous-carried-over"})
_SOLVENT_KEYS = frozenset({"solvent-left", "not-constant", "weighed-warm"})


def expected_band(mass: MassRecord, way: Way) -> Band:
    """Mass that the flask would hold [g]: median with the 5th and 95th percentile.

    Of what was done it is the band that the yield is judged by, from the whole run.
    """
    held = way.sample.holdings[mass.target]
    if held.weighed is not None:
        return held.weighed
    low, middle, high = np.percentile(held.mass_g, [5.0, 50.0, 95.0])
    return Band(float(middle), float(low), float(high), "g")


def evidence(
    key: str, bench: Bench, record: BenchRecord, way: Way, class_bands: Mapping[str, Band]
) -> tuple[str, ...]:
    """Sentences for the TA; the first ones are about the masses."""
    found: list[str] = []
    for mass in record.masses:
        if way.hit in ("", mass.target):
            found.extend(_mass_sentences(key, bench, mass, way, class_bands))
            found.extend(_notes(bench, mass, way))
    if key in _DRYING_KEYS:
        found.extend(_drying_sentences(record, way))
    found.extend(_volume_sentences(bench, record, way))
    return tuple(found)


def _g(value: float, mass: MassRecord) -> str:
    return shown(value, mass.readability_g)


def _range(band: Band) -> str:
    return interval(band.low, band.high, "g")


def _mass_sentences(
    key: str, bench: Bench, mass: MassRecord, way: Way, class_bands: Mapping[str, Band]
) -> Iterator[str]:
    name = bench.case.inventory.names[mass.target]
    usual = expected_band(mass, Way(bench.sample))
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
        yield from _recording(key, mass, usual)
    else:
        yield (
            f"{found}. With this, {_range(expected_band(mass, way))} would be expected; "
            f"{as_recorded}."
        )
    if key in _SOLVENT_KEYS:
        yield _trend(mass)


def _trend(mass: MassRecord) -> str:
    if len(mass.gross) == 1:
        return "There is one full reading, so whether the mass was constant is not known."
    fall = mass.fall_g
    if abs(fall) <= 2.0 * mass.readability_g + 1e-9:
        return (
            f"The full readings agree within {_g(2.0 * mass.readability_g, mass)}, which "
            "does not exclude solvent if nothing was done between them."
        )
    way = "fell" if fall > 0 else "rose"
    return f"The full readings {way} by {_g(abs(fall), mass)} from the first to the last."


def _recording(key: str, mass: MassRecord, usual: Band) -> Iterator[str]:
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
            "that change places move a reading by a multiple of 9 in their place."
        )
    elif key in ("factor-1000", "wrong-decimal"):
        yield (
            f"The readings run from {_g(min(mass.tare, *mass.gross), mass)} to "
            f"{_g(max(mass.tare, *mass.gross), mass)}; an empty flask weighs some tens of "
            "grams."
        )
    else:
        yield from _something_on_the_pan(key, mass, off, side)


def _something_on_the_pan(key: str, mass: MassRecord, off: float, side: str) -> Iterator[str]:
    sizes = {
        "object-at-gross": "Chips or a label weigh 0.05 to 0.3 g, a stir bar 1 to 8 g, a stopper "
        "5 to 20 g, a cork ring 20 to 80 g (estimates).",
        "another-flask": "Two flasks of one kind differ by 0.1 to 5 g (estimate).",
    }
    size = sizes.get(key, sizes["object-at-gross"])
    yield f"It is {_g(abs(off), mass)} {side} the middle of that. {size}"
    if mass.gross_extra or mass.tare_extra:
        items = [
            f"{', '.join(items)} at {when} only"
            for items, when in (
                (mass.gross_extra, "the full weighing"),
                (mass.tare_extra, "the tare"),
            )
            if items
        ]
        yield f"Ticked as on the pan: {'; '.join(items)}."
    if key == "another-flask":
        same = "differ" if mass.other_flask_number else "do not differ"
        yield f"The flask numbers on record {same}."


def _notes(bench: Bench, mass: MassRecord, way: Way) -> Iterator[str]:
    """Signs of purity that fit clearly better or worse than with nothing wrong."""
    plain = Way(bench.sample)
    for note in mass.noted:
        chances = []
        for tried in (way, plain):
            held: Holding = tried.sample.holdings[mass.target]
            weight = target_density(bench, mass, tried, witnesses=False) + 1e-300
            sign = one_witness(note, held, mass.target, bench.tables)
            chances.append(float(np.sum(weight * sign) / np.sum(weight)))
        ratio = chances[0] / max(chances[1], 1e-9)
        words = f"melting from {note.low_C:g} °C" if note.kind == "mp" else note.words
        if ratio >= FITS:
            yield f"Noted for {note.kind}: “{words}”. This fits better than with nothing wrong."
        elif ratio <= DOES_NOT_FIT:
            yield f"Noted for {note.kind}: “{words}”. This does not fit well."


def _drying_sentences(record: BenchRecord, way: Way) -> Iterator[str]:
    for seen in record.drying:
        used = way.sample.drying.get(seen.step.id)
        need = ""
        if used is not None:
            low, high = np.percentile(used.needed_g, [5.0, 95.0])
            need = f" The water would ask for {fixed(float(low), 1)} to {fixed(float(high), 1)} g."
        if way.drying.get(seen.step.id, AS_NEEDED) == AS_NEEDED and used is None:
            continue
        yield _agent(seen) + need


def _agent(seen: DryingSeen) -> str:
    record = seen.record
    if record is None or record.agent_mass_g is None:
        return "No mass of drying agent is on record."
    looks = [t for t in (record.agent_look, record.liquid_look) if t]
    looked = f", looking {' and '.join(looks)}" if looks else ""
    return f"Recorded: {record.agent_mass_g:g} g of drying agent{looked}."


def _volume_sentences(bench: Bench, record: BenchRecord, way: Way) -> Iterator[str]:
    """Volumes where this explanation asks for another one than the steps as recorded."""
    for key, mL in record.volumes_mL.items():
        here, usual = way.sample.volumes_mL.get(key), bench.sample.volumes_mL.get(key)
        if here is None or usual is None:
            continue
        middle, other = float(np.median(here)), float(np.median(usual))
        if abs(middle - other) > 0.05 * other:
            yield (
                f"{mL:g} mL was read in ‘{key[1]}’; this would give about "
                f"{fixed(middle, 0)} mL, the steps as recorded {fixed(other, 0)} mL."
            )
