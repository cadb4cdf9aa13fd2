"""The stockroom's sheet for a section, in words."""

from dataclasses import dataclass

from workups.grading.numbers import duration, plain, rounded, unit_after
from workups.grading.stock import (
    Glass,
    Need,
    Stock,
    Waste,
    rounded_up,
    scaled,
    stock_for_one,
)
from workups.models import Assignment
from workups.selectors.progress import current_works

KIND_TITLES = {
    "reagent": "Reagents",
    "solvent": "Solvents",
    "solution": "Solutions",
    "drying agent": "Drying agents",
}
_VESSELS = {"funnel": "separatory funnel", "flask": "flask"}
_LITRE_mL = 1000.0


@dataclass(frozen=True)
class NeedLine:
    need: Need
    each: str
    total: str


@dataclass(frozen=True)
class NeedGroup:
    title: str
    lines: tuple[NeedLine, ...]


@dataclass(frozen=True)
class GlassLine:
    """Vessels of one size, with what they hold."""

    size: str
    count: int
    each: int
    names: tuple[str, ...]


@dataclass(frozen=True)
class WasteLine:
    waste: Waste
    volume: str
    container: str


@dataclass(frozen=True)
class InstrumentLine:
    name: str
    uses: int
    each: str
    total: str


@dataclass(frozen=True)
class PrepSheet:
    """What the page shows; totals are for all students with the spare, rounded up."""

    students: int
    groups: list[NeedGroup]
    glass: list[GlassLine]
    waste: list[WasteLine]
    instruments: list[InstrumentLine]


def prep_sheet(assignment: Assignment, spare: float) -> PrepSheet:
    """For the students of the section; a record shared by two needs half as much.

    ``spare`` is a share, 0.1 for a tenth more.
    """
    students = current_works([assignment.pk]).count()
    sets = -(-students // assignment.group_size)
    one = stock_for_one(assignment.revision.to_core())
    everything = scaled(one, sets, spare)
    return PrepSheet(
        students=students,
        groups=_groups(one, everything),
        glass=_glass(one, everything),
        waste=[_waste_line(w) for w in everything.waste],
        instruments=[
            InstrumentLine(a.name, a.uses, duration(round(a.minutes)), duration(round(b.minutes)))
            for a, b in zip(one.instruments, everything.instruments, strict=True)
        ],
    )


def _groups(one: Stock, everything: Stock) -> list[NeedGroup]:
    lines = [
        NeedLine(a, _amount(a.amount, a.unit), _amount(rounded_up(b.amount), b.unit))
        for a, b in zip(one.needs, everything.needs, strict=True)
    ]
    groups = [
        NeedGroup(title, tuple(line for line in lines if line.need.kind == kind))
        for kind, title in KIND_TITLES.items()
    ]
    return [group for group in groups if group.lines]


def _amount(quantity: float, unit: str) -> str:
    if unit == "mL" and quantity >= _LITRE_mL:
        return unit_after(plain(quantity / _LITRE_mL, 3), "L")
    return unit_after(plain(quantity, 3), unit)


def _glass(one: Stock, everything: Stock) -> list[GlassLine]:
    by_size: dict[tuple[str, float], list[Glass]] = {}
    for vessel in one.glass:
        by_size.setdefault((vessel.kind, vessel.size_mL), []).append(vessel)
    factor = everything.students
    return [
        GlassLine(
            f"{unit_after(plain(size), 'mL')} {_VESSELS[kind]}",
            len(vessels) * factor,
            len(vessels),
            tuple(v.name for v in vessels if v.kind != "funnel"),
        )
        for (kind, size), vessels in by_size.items()
    ]


def _waste_line(waste: Waste) -> WasteLine:
    if waste.volume_mL <= 0:
        return WasteLine(waste, rounded(waste.solid_g, "g"), "")
    return WasteLine(
        waste,
        _amount(rounded_up(waste.volume_mL), "mL"),
        _amount(rounded_up(waste.container_mL), "mL"),
    )
