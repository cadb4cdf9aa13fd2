"""Checks of the readings themselves, asked as questions, never as accusations."""

from __future__ import annotations

from collections.abc import Iterator

from workups.chemistry.readings import Readings, TargetReadings, Weighing
from workups.chemistry.yields import is_constant, taken_out_g

from .assessment import Finding, Number, Strength
from .numbers import balance_decimals

WHY = (
    "A mass is the difference of two readings of the same flask with the same things on the "
    "pan. A slip in writing is quickly mended while the flask is still at hand; nothing here "
    "says the number is wrong."
)
SOURCE = "mass by difference; readability of the balance (JCGM 100, F.2.2.1)"


def record_questions(readings: Readings, charged_g: float) -> tuple[Finding, ...]:
    """Questions about a bench record. ``charged_g``: all that was put into the reaction [g]."""
    return tuple(q for record in readings.targets.values() for q in _questions(record, charged_g))


def _question(code: str, message: str, change: str, *numbers: Number) -> Finding:
    return Finding(
        code,
        "yield",
        Strength.INFORMATION,
        "",
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
    yield from _same(tares[-1], gross[-1])
    if is_constant(record.weighings) is False:
        yield _question(
            "not-constant",
            "The last two gross readings do not agree yet.",
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
            "Different things were on the pan at tare and at gross.",
            "Weigh again with the same things on, or weigh what differs and note it.",
        )
    if tare.balance and gross.balance and tare.balance != gross.balance:
        yield _question(
            "another-balance",
            "Tare and gross were read on different balances.",
            "Two balances differ by more than one does from itself; note it.",
        )
