"""What a stockroom puts out for an exercise: computed by carrying out the model plan.

Amounts are for one student unless scaled; volumes in mL, masses in g, times in min. Amounts that
depend on the chemistry (drying agent until free-flowing, acid until a pH) are the middle value of
the simulation. Sizes of glass are common practice.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from workups.chemistry.draws import Draws
from workups.chemistry.limits import FLASK_WELL_FILLED, STRIPPED_FLASK_FILLED
from workups.chemistry.plan import Step
from workups.chemistry.run import Outcome, Run, simulate
from workups.chemistry.step import Use
from workups.exercise.exercise import Exercise
from workups.words.material_facts import material_facts, material_name, substance_word
from workups.words.numbers import NBSP, amount
from workups.words.sentences import step_heading

from .hazards import material_hazards
from .sundries import Sundry, sundries_of
from .waste import Waste, waste_streams

FLASK_SIZES_mL = (25, 50, 100, 125, 250, 500, 1000, 2000)


@dataclass(frozen=True)
class Need:
    """One thing to put out: how much (``unit`` mL or g), what for, how to make it up."""

    key: str
    name: str
    kind: str
    amount: float
    unit: str
    uses: tuple[str, ...] = ()
    how_to_make: str = ""
    cautions: str = ""
    by_staff: bool = False
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True)
class Glass:
    """A vessel of the plan with the size that its fullest moment asks for."""

    name: str
    size_mL: float
    fullest_mL: float
    count: int = 1
    kind: str = "flask"


@dataclass(frozen=True)
class Instrument:
    """A shared instrument: how often one student uses it and for how long in all."""

    name: str
    uses: int
    minutes: float


@dataclass(frozen=True)
class Stock:
    """Everything for a number of students; glass and instruments count for each."""

    students: int
    spare: float
    needs: tuple[Need, ...]
    glass: tuple[Glass, ...]
    waste: tuple[Waste, ...]
    instruments: tuple[Instrument, ...]
    sundries: tuple[Sundry, ...] = ()


def stock_for_one(exercise: Exercise) -> Stock:
    """What one student needs to carry out the model plan."""
    run = simulate(exercise.model_plan, exercise.setup, Draws(1, 1))
    return Stock(
        students=1,
        spare=0.0,
        needs=(*_reagents(exercise), *_materials(exercise, run)),
        glass=_glass(exercise, run),
        waste=waste_streams(exercise, run),
        instruments=_instruments(run),
        sundries=sundries_of(exercise.model_plan),
    )


def scaled(stock: Stock, students: int, spare: float) -> Stock:
    """The same for a number of students, with ``spare`` (0.1: a tenth more) of what is used up.

    Waste is scaled without the spare: what is not used is not thrown away.
    """
    factor = students * (1.0 + spare)
    return replace(
        stock,
        students=students,
        spare=spare,
        needs=tuple(replace(n, amount=n.amount * factor) for n in stock.needs),
        glass=tuple(replace(g, count=g.count * students) for g in stock.glass),
        waste=tuple(
            replace(w, volume_mL=w.volume_mL * students, solid_g=w.solid_g * students)
            for w in stock.waste
        ),
        instruments=tuple(
            replace(i, uses=i.uses * students, minutes=i.minutes * students)
            for i in stock.instruments
        ),
        sundries=tuple(
            replace(s, count=math.ceil(s.count * factor - 1e-9)) for s in stock.sundries
        ),
    )


def rounded_up(quantity: float, digits: int = 2) -> float:
    """A quantity to put out, rounded up to significant figures.

    >>> rounded_up(1234.0), rounded_up(1.61), rounded_up(0.0)
    (1300.0, 1.7, 0.0)
    """
    if quantity <= 0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(quantity)) - digits + 1)
    return round(math.ceil(quantity / step - 1e-9) * step, 9)


# --- reagents and materials ----------------------------------------------------------------------


def _reagents(exercise: Exercise) -> Iterator[Need]:
    for reagent in exercise.setup.reaction.reagents:
        quantity, unit = next(
            (value, unit)
            for value, unit in (
                (reagent.mass_g, "g"),
                (reagent.volume_mL, "mL"),
                (reagent.amount_mmol, "mmol"),
            )
            if value is not None
        )
        yield Need(
            reagent.substance,
            substance_word(reagent.substance, exercise.setup.tables),
            "reagent",
            quantity,
            unit,
            uses=(reagent.role,),
            by_staff=reagent.staff_dispensed,
            hazards=material_hazards(reagent.substance, exercise),
        )


@dataclass
class _Tally:
    amount: float = 0.0
    uses: list[str] = field(default_factory=list)


def _materials(exercise: Exercise, run: Run) -> tuple[Need, ...]:
    """Solvents and solutions by volume, then drying agents by mass, in the order of use."""
    used: dict[str, _Tally] = {}
    for outcome in run.outcomes:
        for use in outcome.step.uses():
            tally = used.setdefault(use.material, _Tally())
            tally.amount += _amount(run, outcome, use)
            tally.uses.append(_use_words(exercise, outcome.step))
    needs = [_need(exercise, key, tally) for key, tally in used.items()]
    return tuple(sorted(needs, key=lambda n: n.kind == "drying agent"))


def _use_words(exercise: Exercise, step: Step) -> str:
    heading = step_heading(step, exercise)
    rinses = [
        f"{use.times}{NBSP}×{NBSP}{amount(use.each_mL, 'mL')}"
        for use in step.uses() if use.is_rinse and use.each_mL
    ]
    return ", ".join((heading, *rinses))


def _amount(run: Run, outcome: Outcome, use: Use) -> float:
    """How much a step takes from the bench [mL], or [g] of a drying agent."""
    if use.volume_mL is not None:
        return use.volume_mL
    if outcome.facts.drying is not None:
        return float(outcome.facts.drying.mass_g[0])
    before = run.before(run.outcomes.index(outcome)).put_in
    return float(run.inventory.volume_mL(outcome.after.put_in - before)[0])


def _need(exercise: Exercise, key: str, tally: _Tally) -> Need:
    known = exercise.setup.tables
    solution = known.solutions.get(key)
    own = next((m for m in exercise.setup.own_materials if m.key == key), None)
    kind = "solvent" if key in known.solvents else "solution"
    if key in known.agents:
        kind = "drying agent"
    return Need(
        key,
        material_name(key, exercise),
        kind,
        tally.amount,
        "g" if kind == "drying agent" else "mL",
        tuple(tally.uses),
        how_to_make=solution.how_to_make if solution and not own else "",
        cautions=material_facts(key, exercise).cautions,
        hazards=material_hazards(key, exercise),
    )


# --- glass ---------------------------------------------------------------------------------------


def _glass(exercise: Exercise, run: Run) -> tuple[Glass, ...]:
    """The funnel, then every flask of the plan by its fullest moment."""
    fullest: dict[str, float] = {}
    for state in (run.start, *(o.after for o in run.outcomes)):
        for name, flask in state.flasks.items():
            volume = float(run.inventory.volume_mL(flask.total())[0])
            fullest[name] = max(fullest.get(name, 0.0), volume)
    stripped = run.end.stripped
    full = FLASK_WELL_FILLED
    flasks = tuple(
        Glass(name, _size(volume, STRIPPED_FLASK_FILLED if name in stripped else full), volume)
        for name, volume in fullest.items()
    )
    if not any(step.layers() for step in exercise.model_plan.steps):
        return flasks
    funnel_mL = exercise.setup.glassware.funnel_mL
    shakes = [s for o in run.outcomes for s in o.facts.shakes]
    most = max((float(s.fill[0]) for s in shakes), default=0.0) * funnel_mL
    return (Glass("separatory funnel", funnel_mL, most, kind="funnel"), *flasks)


def _size(volume_mL: float, limit: float) -> float:
    """The smallest common size that is not filled beyond the limit; the largest if none is."""
    fitting = (size for size in FLASK_SIZES_mL if volume_mL <= limit * size)
    return float(next(fitting, FLASK_SIZES_mL[-1]))


# --- instruments ---------------------------------------------------------------------------------


def _instruments(run: Run) -> tuple[Instrument, ...]:
    minutes: dict[str, list[float]] = {}
    for outcome in run.outcomes:
        if name := outcome.step.instrument():
            minutes.setdefault(name, []).append(outcome.facts.minutes)
    return tuple(Instrument(name, len(m), float(sum(m))) for name, m in minutes.items())
