"""Checks of the readings themselves, asked as questions, never as accusations."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from workups.chemistry.plan import Step
from workups.chemistry.readings import Readings, TargetReadings, Weighing
from workups.chemistry.yields import flasks_weighed, is_constant, taken_out_g
from workups.words.numbers import balance_decimals, fixed, joined

from ..assessment import Finding, Number, Strength
from ..diagnosis.recording import neighbours_swapped

WHY = (
    "A mass is the difference of two readings of the same flask with the same things on the "
    "pan. A slip in writing is quickly mended while the flask is still at hand; nothing here "
    "says the number is wrong."
)
SOURCE = "mass by difference; readability of the balance (JCGM 100, F.2.2.1)"


def record_questions(
    readings: Readings, charged_g: float, not_skipped: Sequence[Step] = ()
) -> tuple[Finding, ...]:
    """Questions about a bench record.

    ``charged_g`` all that was put into the reaction, or what the steps lead to if that is more [g];
    ``not_skipped`` steps that are marked as skipped and cannot have been.
    """
    masses = (q for record in readings.targets.values() for q in _questions(record, charged_g))
    amounts = (_no_amount() for amount in readings.reagents.values() if amount <= 0)
    return (*masses, *amounts, *map(_not_skipped, not_skipped))


def _no_amount() -> Finding:
    return _question(
        "amount-of-nothing",
        "An amount of 0 is recorded for something that was put into the reaction.",
        "Please check this entry: what takes part in the reaction counts as planned until then.",
    )


def _not_skipped(step: Step) -> Finding:
    return _question(
        "skipped-but-needed",
        f"\u2018{step.title}\u2019 is marked as skipped, but without it the flask would hold "
        "something quite different from what was weighed. It is taken as done.",
        "Please check the mark: was the step done after all, or in another way?",
        step=step.id,
    )


def _question(
    code: str, message: str, change: str, *numbers: Number, step: str = ""
) -> Finding:
    return Finding(
        code,
        "yield",
        Strength.INFORMATION,
        step,
        message,
        change,
        WHY,
        SOURCE,
        numbers,
        cause=code,
        charged=False,
        question=True,
    )


def _questions(record: TargetReadings, charged_g: float) -> Iterator[Finding]:
    tares = [w for w in record.weighings if w.kind == "tare"]
    gross = [w for w in record.weighings if w.kind == "gross"]
    if gross and not tares:
        yield _question(
            "tare-missing",
            "There is a gross mass but no tare.",
            "Enter the tare, or weigh the flask when it is empty, clean and dry.",
        )
    for weighing in record.weighings:
        yield from _decimals(weighing)
    if not tares or not gross:
        return
    weighed = gross[-1].mass_g - tares[-1].mass_g
    net = weighed + taken_out_g(record.parts)
    if weighed < 0:
        yield _question(
            "gross-below-tare",
            "The gross mass is below the tare. Please check both entries.",
            "Look at the notebook: were they written in each other's place, or was "
            "something on the pan only once?",
            Number("difference", weighed, "g", reveals_yield=True),
        )
    if net > charged_g:
        yield _question(
            "more-than-charged",
            "The net mass is larger than everything that was put in.",
            "Check the unit and what was on the pan at both weighings.",
            Number("net mass", net, "g", reveals_yield=True),
        )
    flasks = flasks_weighed(record.weighings)
    if len(flasks) > 1:
        yield _question(
            "two-flasks",
            "Two flasks have a tare and a gross of their own.",
            "Is product in both, so that they count together, or was it poured over?",
        )
    else:
        yield from _same(tares[-1], gross[-1])
    for flask in flasks if len(flasks) > 1 else [record.weighings]:
        if is_constant(flask) is False:
            yield _not_constant(*[w for w in flask if w.kind == "gross"][-2:])


def _not_constant(before: Weighing, last: Weighing) -> Finding:
    """What to do about two full readings that differ, by the direction and by their digits."""
    turned = neighbours_swapped(before.mass_g, before.readability_g)
    if round(last.mass_g, 6) in turned:
        shown = [fixed(w.mass_g, balance_decimals(w.readability_g)) for w in (before, last)]
        return _question(
            "digits-crossed",
            f"The last two gross readings, {shown[0]} and {shown[1]}, have the same digits in "
            "another order.",
            "Please check both entries against the notebook or the balance.",
        )
    if last.mass_g > before.mass_g:
        return _question(
            "not-constant",
            "The last two gross readings do not agree yet: the mass rose.",
            "A mass that rises is no solvent leaving. Let the flask cool, wipe it dry, see that "
            "the same things are on the pan, and weigh again until two readings agree.",
        )
    return _question(
        "not-constant",
        "The last two gross readings do not agree yet: the mass fell.",
        "Take off the rest of the solvent, cool, and weigh again until two readings agree.",
    )


def _decimals(weighing: Weighing) -> Iterator[Finding]:
    allowed = balance_decimals(weighing.readability_g)
    text = f"{weighing.mass_g:.6f}".rstrip("0")
    shown = len(text.split(".")[1]) if "." in text else 0
    if shown > allowed:
        yield _question(
            "too-many-decimals",
            f"A reading has {shown} decimals; this balance shows {allowed}.",
            "Please check the entry against the balance.",
        )


def _same(tare: Weighing, gross: Weighing) -> Iterator[Finding]:
    if tare.flask_number and gross.flask_number and tare.flask_number != gross.flask_number:
        yield _question(
            "another-flask",
            f"Tare is for flask {tare.flask_number}, gross for flask {gross.flask_number}.",
            "Please check the flask numbers.",
        )
    if set(tare.on_pan) != set(gross.on_pan):
        yield _question(
            "another-load",
            f"Not the same things were on the pan: {_things(tare)} at the tare, {_things(gross)} "
            "at the gross.",
            "Weigh again with the same things on, or weigh what differs and note it.",
        )
    if tare.balance and gross.balance and tare.balance != gross.balance:
        yield _question(
            "another-balance",
            "Tare and gross were read on different balances.",
            "Two balances differ by more than one does from itself; note it.",
        )


def _things(weighing: Weighing) -> str:
    return joined(weighing.on_pan) or "nothing"
