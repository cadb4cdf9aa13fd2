"""What really is in the flasks of one simulated student, before anything is written down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.drying import CLUMPED, LOOSE, PUDDLE, agent_look, clumps_from, liquid_look
from workups.chemistry.measures import TargetMeasure, measure
from workups.chemistry.plan import Dry, Extract, Weigh
from workups.chemistry.run import Outcome, Run

from .accidents import Accident
from .crossing import carried
from .dice import Dice
from .habits import shortfall

Array = NDArray[np.float64]

# The diagnosis is measured on these students: what they do is stated here for itself, also where
# it equals what the diagnosis takes for likely (``hypotheses/``), and is never read from there.
# Masses of what is left on a pan [g]; estimates from common practice.
OBJECTS: Mapping[str, tuple[float, float]] = {
    "boiling chips": (0.05, 0.3),
    "label": (0.05, 0.2),
    "stir bar": (1.0, 8.0),
    "stopper": (5.0, 20.0),
    "cork ring": (20.0, 80.0),
}
HYDRATE_MASS = 1.3
# Share of the product that is left after a loss [1], lowest and highest.
KEPT: Mapping[str, tuple[float, float]] = {
    "layer-partly-lost": (0.82, 0.98),
    "wrong-layer": (0.0, 0.08),
    "spilled": (0.10, 0.92),
}
# Part of each layer that meets the other where layers are hardly mixed.
HARDLY_MIXED = (0.10, 0.90)


@dataclass(frozen=True)
class Contents:
    """What a weighed flask holds, in g."""

    product: float
    solvent: float
    water: float
    salt: float
    agent: float
    acid: float
    other: float

    @property
    def mass_g(self) -> float:
        """All of it."""
        rest = self.solvent + self.water + self.salt + self.agent + self.acid + self.other
        return self.product + rest

    def times(self, share: float) -> Contents:
        """A part of everything."""
        return Contents(*(share * getattr(self, f) for f in Contents.__dataclass_fields__))


@dataclass(frozen=True)
class Drying:
    """One use of a drying agent as it was: mass [g], looks, minutes."""

    step: str
    agent_g: float
    agent_look: str
    liquid_look: str
    minutes: float


@dataclass(frozen=True)
class Truth:
    """One student's bench. ``nets``: g above the tare on record, reading by reading, exactly.

    ``hit`` is the target that the slip concerns; ``item`` what lay on the pan once only.
    """

    slip: str
    hit: str
    contents: Mapping[str, Contents]
    nets: Mapping[str, tuple[float, ...]]
    drying: tuple[Drying, ...]
    volumes_mL: Mapping[tuple[str, str], float]
    item: str = ""


@dataclass(frozen=True)
class World:
    """A run with its targets measured; each draw is the world of one student."""

    run: Run
    measures: Mapping[str, TargetMeasure]


def world_of(run: Run) -> World:
    """Measure all targets of a run."""
    targets = [t.substance for t in run.inventory.setup.targets]
    return World(run, {t: measure(run, t) for t in targets})


def truth_of(world: World, accident: Accident, draw: int, dice: Dice) -> Truth:
    """The bench in one draw of a world, with what the slip does to its end."""
    slip, run = accident.slip, world.run
    targets = tuple(world.measures)
    hit = accident.hit or dice.pick("target", targets)
    drying = _drying(run, draw)
    item = dice.pick("object", tuple(OBJECTS))
    contents, nets = {}, {}
    for target in targets:
        held = _contents(world.measures[target], draw)
        mine = slip if target == hit else ""
        contents[target] = _after_slip(held, mine, drying, dice, accident.size)
        if mine == "not-mixed":
            contents[target] = _hardly_mixed(run, target, draw, held, dice, accident.size)
        nets[target] = _nets(world, target, contents[target], mine, item, dice, accident.size)
    on_pan = item if slip in ("object-at-gross", "object-at-tare") else ""
    volumes = _volumes(run, draw, slip == "volume-read-early", dice)
    return Truth(slip, hit, contents, nets, drying, volumes, on_pan)


def _contents(found: TargetMeasure, draw: int) -> Contents:
    names = ("product_g", "solvent_g", "water_g", "salt_g", "agent_g", "acid_g", "other_g")
    return Contents(*(float(getattr(found, n)[draw]) for n in names))


def _hardly_mixed(
    run: Run, target: str, draw: int, held: Contents, dice: Dice, size: float
) -> Contents:
    """A part of what had to change layers in one shake is still where it was."""
    steps = carried(run, target, draw)
    if not steps:
        return held
    contact = shortfall(dice.between("not-mixed", *HARDLY_MIXED), size)
    kept = dice.pick("hardly mixed", steps).kept(contact)
    return replace(held, product=kept * held.product, solvent=kept * held.solvent)


def _after_slip(
    held: Contents, slip: str, drying: tuple[Drying, ...], dice: Dice, size: float
) -> Contents:
    if slip == "wrong-layer":
        return held.times(dice.between(slip, *KEPT[slip]))
    if slip in KEPT:
        return held.times(shortfall(dice.between(slip, *KEPT[slip]), size))
    if slip == "fines" and drying:
        share = size * dice.between("fines", 0.02, 0.12)
        solid = drying[-1].agent_g * HYDRATE_MASS * share
        return replace(held, agent=held.agent + solid)
    if slip == "something-else":
        return held.times(float(np.exp(0.6 * size * dice.normal("else"))))
    return held


def readings_planned(world: World, target: str) -> int:
    """Gross readings that the plan asks for of a target's flask."""
    flask, run = world.measures[target].flask, world.run
    counts = [step.readings for _, step, _ in run.of(Weigh) if step.flask == flask]
    return counts[-1] if counts else 2


def _nets(
    world: World, target: str, held: Contents, slip: str, item: str, dice: Dice, size: float
) -> tuple[float, ...]:
    count = readings_planned(world, target)
    if slip == "not-constant" and dice.chance("only one reading", 0.3):
        count = 1
    falls = 0.0 if slip == "solvent-left" else dice.between("falls", 0.1, 0.4)
    volatile = held.solvent + held.water
    left = [volatile * (1.0 - falls) ** i for i in range(count)]
    nets = [held.mass_g - volatile + s + size * _offset(slip, item, dice) for s in left]
    if slip == "weighed-warm":
        light = size * dice.log_between("warm", 0.01, 0.08)
        cools = dice.between("cools", 0.1, 0.6)
        nets = [m - light * cools**i for i, m in enumerate(nets)]
    return tuple(nets)


def _offset(slip: str, item: str, dice: Dice) -> float:
    """What a reading is off by [g], whatever is in the flask."""
    weight = dice.log_between("object", *OBJECTS[item])
    if slip == "object-at-gross":
        return weight
    if slip == "object-at-tare":
        return -weight
    if slip == "another-flask":
        sign = 1.0 if dice.chance("heavier", 0.5) else -1.0
        return sign * dice.log_between("flask", 0.1, 5.0)
    return 0.0


def _drying(run: Run, draw: int) -> tuple[Drying, ...]:
    return tuple(
        _one_drying(run, step, outcome, draw)
        for _, step, outcome in run.of(Dry)
        if outcome.facts.drying is not None
    )


def _one_drying(run: Run, step: Dry, outcome: Outcome, draw: int) -> Drying:
    facts = outcome.facts.drying
    assert facts is not None
    inv = run.inventory
    mass = float(facts.mass_g[draw])
    clump_from = float(clumps_from(inv.agents[step.agent], inv.draws)[draw])
    loose = agent_look(float(facts.held_ratio[draw]), float(facts.free_mL[draw]), clump_from)
    short = mass < float(facts.needed_g[draw] - 0.8 * inv.practice["loose_g"][draw])
    if loose == LOOSE and short:
        loose = CLUMPED
    organic_mL = float(inv.volume_mL(outcome.after.flasks[step.flask].organic)[draw])
    liquid = liquid_look(float(facts.droplets_after_mL[draw]), organic_mL)
    look = PUDDLE if facts.wrong_layer else loose
    return Drying(step.id, mass, look, liquid, step.minutes)


def _volumes(run: Run, draw: int, early: bool, dice: Dice) -> Mapping[tuple[str, str], float]:
    """Volume of the kept layer after each extraction [mL]; ``early``: before its portions were
    combined, of the first ones or of the last."""
    found = {}
    for _, step, outcome in run.of(Extract):
        if step.keep_in in outcome.after.flasks:
            liquid = outcome.after.flasks[step.keep_in].liquid()
            found[step.id, step.keep_in] = float(run.inventory.volume_mL(liquid)[draw])
            if early and step.portions > 1:
                found[step.id, step.keep_in] = _not_combined(outcome, step, draw, dice)
    return found


def _not_combined(outcome: Outcome, step: Extract, draw: int, dice: Dice) -> float:
    """What is in the flask at hand when some of the extracts are still elsewhere [mL]."""
    layers = []
    for shake in outcome.facts.shakes:
        upper = shake.organic_mL if shake.organic_on_top[draw] > 0 else shake.aqueous_mL
        lower = shake.aqueous_mL if shake.organic_on_top[draw] > 0 else shake.organic_mL
        layers.append(float((upper if step.keep == "upper" else lower)[draw]))
    if dice.chance("the last one alone", 0.4):
        return layers[-1]
    return sum(layers[: dice.pick("extracts together", range(1, len(layers)))])
