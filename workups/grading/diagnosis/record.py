"""A bench record as the diagnosis reads it: tare, full readings, what was noted, drying."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from workups.chemistry.plan import Dry, Extract, Step, steps_of
from workups.chemistry.readings import (
    DoneStep,
    DryingRecord,
    Readings,
    TargetReadings,
    Witness,
)
from workups.chemistry.setup import Setup, Target
from workups.chemistry.yields import taken_out_g, weighing_u_g


@dataclass(frozen=True)
class Noted:
    """One sign of purity in a word: ``what`` such as cloudy, ``words`` as they were written.

    For a melting range ``what`` is empty and ``low_C`` its lower end. ``disagrees``: the student
    marked it as not agreeing with the product.
    """

    kind: str
    what: str
    words: str
    low_C: float | None = None
    disagrees: bool = False


@dataclass(frozen=True)
class MassRecord:
    """Weighings of one target. ``tare`` and ``gross`` [g] as recorded; ``u_g`` of one reading.

    ``taken_out_g`` what was taken out of the sample before the full readings;
    ``tare_extra``/``gross_extra`` what was ticked as being on the pan at one of the two only.
    """

    target: str
    tare: float
    gross: tuple[float, ...]
    readability_g: float
    u_g: float
    noted: tuple[Noted, ...] = ()
    tare_extra: tuple[str, ...] = ()
    gross_extra: tuple[str, ...] = ()
    other_flask_number: bool = False
    taken_out_g: float = 0.0

    @property
    def net_g(self) -> float:
        """Last full reading less the tare, and what was taken out before [g]."""
        return self.weighed_g + self.taken_out_g

    @property
    def weighed_g(self) -> float:
        """Last full reading less the tare [g]."""
        return self.gross[-1] - self.tare

    @property
    def fall_g(self) -> float:
        """How far the full readings fell from the first to the last [g]; negative: they rose."""
        return self.gross[0] - self.gross[-1]


@dataclass(frozen=True)
class DryingSeen:
    """A drying step with its record, if there is one, and the step as it was planned, if known."""

    step: Dry
    record: DryingRecord | None
    planned: Dry | None


@dataclass(frozen=True)
class BenchRecord:
    """Everything of a bench record that tells one explanation from another.

    ``volumes_mL`` by step id and flask; ``portions`` of an extraction by step id, where the
    student wrote how many they were (a step ticked as planned says nothing about that).
    """

    masses: tuple[MassRecord, ...]
    drying: tuple[DryingSeen, ...]
    volumes_mL: Mapping[tuple[str, str], float]
    portions: Mapping[str, int]


def bench_record(setup: Setup, done_steps: Iterable[Step], readings: Readings) -> BenchRecord:
    """Read a bench record; targets without a tare and a full reading are left out."""
    masses = tuple(
        mass
        for t in setup.targets
        if (mass := _mass_record(setup, t, readings.targets.get(t.substance)))
    )
    records = {d.step: d for d in readings.drying}
    planned = {s.id: s for s in steps_of(Dry, (d.step for d in readings.steps))}
    drying = tuple(
        DryingSeen(s, records.get(s.id), planned.get(s.id)) for s in steps_of(Dry, done_steps))
    volumes = {(seen.step, seen.flask): seen.volume_mL for seen in readings.volumes}
    return BenchRecord(masses, drying, volumes, portions_told(readings.steps))


_COUNTS = {w: n for n, w in enumerate(("one", "two", "three", "four", "five", "six"), start=1)}
_PORTIONS = re.compile(
    rf"\b(\d|{'|'.join(_COUNTS)})\s*(?:portions?|extractions?|extracts?|times|[x×](?=\s*\d))",
    re.IGNORECASE,
)


def portions_told(steps: Iterable[DoneStep]) -> Mapping[str, int]:
    """Portions of extractions that were written down: in a remark, or for a step marked as
    changed or added, where the amounts really used are typed."""
    found: dict[str, int] = {}
    for done in steps:
        if not isinstance(done.step, Extract) or done.mark == "skipped":
            continue
        if done.mark in ("changed", "added"):
            found[done.step.id] = done.step.portions
        if said := _PORTIONS.search(done.remark):
            count = said.group(1).lower()
            found[done.step.id] = _COUNTS[count] if count in _COUNTS else int(count)
    return found


def _mass_record(setup: Setup, target: Target, found: TargetReadings | None) -> MassRecord | None:
    if found is None:
        return None
    tares = [w for w in found.weighings if w.kind == "tare"]
    gross = [w for w in found.weighings if w.kind == "gross"]
    if not tares or not gross:
        return None
    tare, last = tares[-1], gross[-1]
    readability = max(tare.readability_g, last.readability_g)
    before, after = set(tare.on_pan), set(last.on_pan)
    numbers = {tare.flask_number, last.flask_number} - {""}
    is_oil = target.product_state == "oil"
    return MassRecord(
        target.substance,
        tare.mass_g,
        tuple(w.mass_g for w in gross),
        readability,
        weighing_u_g(readability, setup.glassware.balance_repeatability_g),
        tuple(n for w in found.witnesses if (n := noted(w, setup, is_oil=is_oil))),
        tuple(sorted(before - after)),
        tuple(sorted(after - before)),
        len(numbers) > 1,
        taken_out_g(found.parts),
    )


# Words by which a note is understood, first match first. Common practice, no source.
_WORDS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "appearance": (
        ("grit", r"grit|insoluble|powder|sediment|salt|agent|white solid at|specks|sand"),
        ("cloudy", r"cloud|haz[ye]|turbid|milky|drop|wet|bead|two layers"),
    ),
    "odour": (
        ("acid", r"acid|vinegar|sharp|sour|pungent"),
        ("solvent", r"solvent|ether|chloroform|dcm|mtbe|toluene|glue"),
    ),
    "TLC": (("spot", r"second|two spots|extra|other spot|starting|more than one|streak"),),
    "IR": (("band", r"o.?h\b|broad|3[2-5]00|water|hydroxyl|carbonyl|c=o|extra|acid"),),
}
_NOT = re.compile(r"\b(no|not|without|free of|none)\b")


def noted(witness: Witness, setup: Setup, *, is_oil: bool = False) -> Noted | None:
    """A witness in a word; None where it says nothing that can be used.

    A sign that was ticked as agreeing is ``clean`` whatever its words; words after a negation
    count as clean too; ticked as not agreeing without known words it is ``off``. What is weighed
    as an oil has no melting range.
    """
    against = witness.agrees is False
    if witness.kind == "mp":
        if witness.low_C is None or is_oil:
            return None
        return Noted("mp", "", "", witness.low_C, disagrees=against)
    if witness.kind not in _WORDS:
        return None
    if witness.agrees:
        return Noted(witness.kind, "clean", witness.text)
    text = witness.text.lower()
    what = next((w for w, pattern in _WORDS[witness.kind] if re.search(pattern, text)), "")
    if witness.kind == "odour" and not what and _names_solvent(text, setup):
        what = "solvent"
    if witness.agrees is None and (not what or _NOT.search(text)):
        return Noted(witness.kind, "clean", witness.text) if text else None
    return Noted(witness.kind, what or "off", witness.text, disagrees=against)


def _names_solvent(text: str, setup: Setup) -> bool:
    known = setup.tables
    solvents = [m for m in setup.materials if m in known.solvents]
    return any(known.material_name(s).split(" (")[0].lower() in text for s in solvents)
