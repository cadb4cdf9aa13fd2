"""What a stockroom puts out, in words: the same lines for the page and for the printed sheet."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from workups.exercise.exercise import Exercise
from workups.sheets.flask_labels import flask_labels
from workups.stock.hazards import pictograms_of
from workups.stock.stock import Glass, Instrument, Need, Stock, rounded_up, scaled, stock_for_one
from workups.stock.sums import added
from workups.stock.waste import Waste
from workups.words.numbers import duration, plain, rounded, unit_after

KIND_TITLES = {
    "reagent": "Reagents",
    "solvent": "Solvents",
    "solution": "Solutions and washes",
    "drying agent": "Drying agents",
}
_VESSELS = {"funnel": "separatory funnel", "flask": "flask"}
_LITRE_mL = 1000.0
# Students for one balance, and evaporators of a room, where nobody says: common practice.
_STUDENTS_PER_BALANCE, _USUAL_EVAPORATORS = 10, 3


@dataclass(frozen=True)
class PrepTerms:
    """Spare share (0.1: a tenth more) and how many instruments the room has (None: usual)."""

    spare: float = 0.1
    balances: int | None = None
    evaporators: int | None = None


@dataclass(frozen=True)
class StockGroup:
    """Students who do the same exercise: ``sets`` of things, one for those who share a record."""

    exercise: Exercise
    sets: int


@dataclass(frozen=True)
class NeedLine:
    need: Need
    each: str
    total: str
    pictograms: tuple[str, ...]


@dataclass(frozen=True)
class NeedGroup:
    title: str
    lines: tuple[NeedLine, ...]


@dataclass(frozen=True)
class GlassLine:
    """Vessels of one size, with what they hold."""

    size: str
    count: int
    each: str
    names: tuple[str, ...]


@dataclass(frozen=True)
class WasteLine:
    waste: Waste
    volume: str
    container: str


@dataclass(frozen=True)
class InstrumentLine:
    """``queue``: how long it takes until everybody has had a turn on the instruments there are."""

    name: str
    uses: int
    total: str
    units: int
    queue: str


@dataclass(frozen=True)
class SundryLine:
    name: str
    count: int
    use: str


@dataclass(frozen=True)
class PrepSheet:
    """What the page and the sheet show; totals hold the spare and are rounded up."""

    students: int
    sets: int
    spare_percent: int
    groups: tuple[NeedGroup, ...]
    glass: tuple[GlassLine, ...]
    waste: tuple[WasteLine, ...]
    instruments: tuple[InstrumentLine, ...]
    sundries: tuple[SundryLine, ...]
    pictograms: tuple[str, ...]


@dataclass(frozen=True)
class _Counted:
    """Stocks of one set and of everybody, group by group."""

    one: tuple[Stock, ...]
    everything: Stock
    labels: int


def prep_lines(groups: Sequence[StockGroup], students: int, terms: PrepTerms) -> PrepSheet:
    """The sheet for some groups together; raises ValueError where there is no group."""
    counted = _count(groups, terms.spare)
    sets = sum(group.sets for group in groups)
    needs = _need_groups(counted)
    waste = tuple(_waste_line(w) for w in counted.everything.waste)
    return PrepSheet(
        students=students,
        sets=sets,
        spare_percent=round(100 * terms.spare),
        groups=needs,
        glass=_glass(counted),
        waste=waste,
        instruments=tuple(
            _instrument(i, students, sets, terms) for i in counted.everything.instruments
        ),
        sundries=_sundries(counted, needs),
        pictograms=pictograms_of(h for n in counted.everything.needs for h in n.hazards),
    )


def _count(groups: Sequence[StockGroup], spare: float) -> _Counted:
    one = tuple(stock_for_one(group.exercise) for group in groups)
    everything = added([scaled(s, g.sets, spare) for s, g in zip(one, groups, strict=True)])
    labels = sum(len(flask_labels(g.exercise, g.exercise.model_plan)) * g.sets for g in groups)
    return _Counted(one, everything, labels)


def _need_groups(counted: _Counted) -> tuple[NeedGroup, ...]:
    lines = [
        NeedLine(
            need,
            _each([n.amount for s in counted.one for n in s.needs if _same(n, need)], need.unit),
            quantity(rounded_up(need.amount), need.unit),
            pictograms_of(need.hazards),
        )
        for need in counted.everything.needs
    ]
    groups = (
        NeedGroup(title, tuple(line for line in lines if line.need.kind == kind))
        for kind, title in KIND_TITLES.items()
    )
    return tuple(group for group in groups if group.lines)


def _same(one: Need, other: Need) -> bool:
    return (one.kind, one.key, one.unit) == (other.kind, other.key, other.unit)


def _each(amounts: Sequence[float], unit: str) -> str:
    """What one set takes; a range where the groups differ."""
    low, high = quantity(min(amounts), unit), quantity(max(amounts), unit)
    return high if low == high else f"{low} to {high}"


def quantity(value: float, unit: str) -> str:
    """An amount to put out: in litres from one litre on.

    >>> quantity(1700.0, "mL").replace(chr(160), " "), quantity(250.0, "g").replace(chr(160), " ")
    ('1.7 L', '250 g')
    """
    if unit == "mL" and value >= _LITRE_mL:
        return unit_after(plain(value / _LITRE_mL, 3), "L")
    return unit_after(plain(value, 3), unit)


def _glass(counted: _Counted) -> tuple[GlassLine, ...]:
    by_size: dict[tuple[str, float], list[Glass]] = {}
    for vessel in counted.everything.glass:
        by_size.setdefault((vessel.kind, vessel.size_mL), []).append(vessel)
    return tuple(
        GlassLine(
            f"{unit_after(plain(size), 'mL')} {_VESSELS[kind]}",
            sum(v.count for v in vessels),
            _count_each(counted, kind, size),
            tuple(dict.fromkeys(v.name for v in vessels if v.kind != "funnel")),
        )
        for (kind, size), vessels in by_size.items()
    )


def _count_each(counted: _Counted, kind: str, size_mL: float) -> str:
    counts = [
        sum(g.count for g in stock.glass if (g.kind, g.size_mL) == (kind, size_mL))
        for stock in counted.one
    ]
    low, high = min(counts), max(counts)
    return str(high) if low == high else f"{low} to {high}"


def _waste_line(waste: Waste) -> WasteLine:
    if waste.volume_mL <= 0:
        return WasteLine(waste, rounded(waste.solid_g, "g"), "wide-mouthed, by its looks")
    count, size = waste.containers
    return WasteLine(
        waste,
        quantity(rounded_up(waste.volume_mL), "mL"),
        f"{count} × {quantity(size, 'mL')}".replace(" × ", "\u00a0×\u00a0"),
    )


def _instrument(
    instrument: Instrument, students: int, sets: int, terms: PrepTerms
) -> InstrumentLine:
    units = _units(instrument.name, students, sets, terms)
    return InstrumentLine(
        instrument.name,
        instrument.uses,
        duration(round(instrument.minutes)),
        units,
        duration(math.ceil(instrument.minutes / units)),
    )


def _units(name: str, students: int, sets: int, terms: PrepTerms) -> int:
    if name == "balance":
        return terms.balances or max(1, math.ceil(students / _STUDENTS_PER_BALANCE))
    if name == "rotary evaporator":
        return terms.evaporators or _USUAL_EVAPORATORS
    return max(1, sets)


def _sundries(counted: _Counted, needs: Sequence[NeedGroup]) -> tuple[SundryLine, ...]:
    containers = sum(w.containers[0] or 1 for w in counted.everything.waste)
    bottles = sum(len(g.lines) for g in needs)
    return (
        *(SundryLine(s.name, s.count, s.use) for s in counted.everything.sundries),
        SundryLine("flask labels", counted.labels, "one for every flask of the model plan"),
        SundryLine("bottle labels", bottles, "name, strength, date, hazard words"),
        SundryLine("waste labels", containers, "stream, full names of what is in it, pH, date"),
    )
