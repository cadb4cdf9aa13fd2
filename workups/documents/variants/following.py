"""What follows for a plan when what it is done with has changed, found by carrying it out.

Each function takes a plan that may no longer fit and gives one that does; only the nominal run
is looked at. Limits are common practice where nothing else is said.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from workups.chemistry.constants import ATMOSPHERE_PA, KELVIN_AT_0_C, MBAR_PA
from workups.chemistry.draws import Draws
from workups.chemistry.kinds import bottle, needs_brine
from workups.chemistry.plan import Discard, Dry, Extract, Filter, Parting, Plan, Strip, Wash
from workups.chemistry.recovery import extraction_stage, recovery
from workups.chemistry.run import Run, continue_run, prepare
from workups.chemistry.setup import Setup
from workups.chemistry.substances import Tables
from workups.chemistry.tables import tables

from .amounts import handy

ORGANIC, AQUEOUS = "organic", "aqueous"
BRINE, SPENT_BRINE = "brine", "spent brine"
MILD_AGENT = "sodium_sulfate"
_NOMINAL = Draws(1, 1)
_LARGER_PORTIONS = (4 / 3, 5 / 3, 2.0)
_MOST_AGENT_PORTIONS, _AGENT_OVER, _MOST_RINSE = 6, 1.2, 4.0
_BRINE_SHARE, _BRINE_mL = 1 / 3, (5.0, 50.0)
_SOLVENT_LEFT = 0.01
_LEAST_mbar, _AIR_mbar, _WARMEST_C = 20.0, ATMOSPHERE_PA / MBAR_PA, 70.0
_OPEN_TO_ROTARY_C = 40.0


@dataclass(frozen=True)
class Change:
    """The swaps, the materials there are now, and how often students may extract."""

    swaps: Mapping[str, str]
    materials: tuple[str, ...]
    most_portions: int

    @property
    def solvents(self) -> dict[str, str]:
        """The swaps of one extraction solvent for another."""
        known = tables().solvents
        return {a: b for a, b in self.swaps.items() if a in known and b in known}


class Lab:
    """Carries plans out with one setup; what a plan shares with the one before is not redone."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self._last = prepare(setup, _NOMINAL)

    def run(self, plan: Plan) -> Run:
        """The nominal run of a plan."""
        found = continue_run(self._last, plan)
        if len(found.outcomes) >= len(self._last.outcomes) or not _begins(self._last, plan):
            self._last = found
        return found

    def run_to(self, plan: Plan, at: int) -> Run:
        """The nominal run of a plan's first ``at`` steps."""
        return self.run(Plan(plan.steps[:at]))


def _begins(run: Run, plan: Plan) -> bool:
    """Whether a run begins with all the steps of a plan."""
    return tuple(o.step for o in run.outcomes[: len(plan.steps)]) == plan.steps


def kept_phases(lab: Lab, plan: Plan) -> dict[str, str]:
    """Which layer each shake of a plan keeps, organic or aqueous, by the step's id."""
    return {step.id: _kept(step, bool(o.facts.shakes[0].organic_on_top[0] > 0.5))
            for _, step, o in lab.run(plan).of(Parting)
            if o.facts.shakes and o.facts.shakes[0].two_layers[0] > 0.5}


def _kept(step: Parting, organic_on_top: bool) -> str:
    return ORGANIC if (step.keep == "upper") == organic_on_top else AQUEOUS


def keeping_phases(plan: Plan, lab: Lab, phases: Mapping[str, str]) -> Plan:
    """The plan with upper and lower exchanged where the kept layer has changed its place."""
    for step in plan.of(Parting):
        shakes = lab.run_to(plan, plan.index(step.id) + 1).outcomes[-1].facts.shakes
        if not shakes or shakes[0].two_layers[0] < 0.5:
            continue
        wanted = phases.get(step.id, ORGANIC)
        if _kept(step, bool(shakes[0].organic_on_top[0] > 0.5)) != wanted:
            plan = plan.replacing(
                replace(step, keep="lower" if step.keep == "upper" else "upper"))
    return plan


def with_enough_portions(plan: Plan, lab: Lab, change: Change) -> Plan:
    """More portions of a swapped solvent, then larger ones, until every goal is reached.

    Where no number within the bounds reaches a goal, the most that is allowed.
    """
    steps = [s for s in plan.of(Extract) if s.material in change.solvents.values()]
    if not steps or goals_are_reached(plan, lab):
        return plan
    fewest = min(s.portions for s in steps) + 1
    tries = [*((n, 1.0) for n in range(fewest, change.most_portions + 1)),
             *((change.most_portions, factor) for factor in _LARGER_PORTIONS)]
    return _first_enough([_with_portions(plan, steps, *tried) for tried in tries], plan, lab)


def _with_portions(plan: Plan, steps: list[Extract], portions: int, factor: float) -> Plan:
    for step in steps:
        plan = plan.replacing(replace(step, portions=max(portions, step.portions),
                                      volume_mL=handy(step.volume_mL * factor)))
    return plan


def _first_enough(plans: list[Plan], otherwise: Plan, lab: Lab) -> Plan:
    """The first plan that reaches its goals, of plans that reach ever more; else the last."""
    low, high = 0, len(plans) - 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if goals_are_reached(plans[middle], lab) else (middle + 1, high)
    return plans[low] if plans else otherwise


def goals_are_reached(plan: Plan, lab: Lab) -> bool:
    """Whether the extractions of a plan reach the goal of every target."""
    return all(reached >= goal for reached, goal in recoveries(plan, lab).values())


def recoveries(plan: Plan, lab: Lab) -> dict[str, tuple[float, float]]:
    """Recovery of each target by its extraction and the goal for it, shares."""
    last = max((plan.index(s.id) + 1 for s in plan.of(Parting)), default=0)
    run = lab.run_to(plan, last)
    found = {}
    for target in lab.setup.targets:
        stage = extraction_stage(run, target.substance)
        if stage is not None:
            reached = float(recovery(run, target.substance, stage)[0])
            found[target.substance] = reached, target.recovery_goal
    return found


def with_brine(plan: Plan, lab: Lab, change: Change) -> Plan:
    """A brine wash before drying a solvent that holds much water, and brine that matches it."""
    grown = _brine_to_match(plan, lab)
    if not any(is_wet(new) and not is_wet(old) for old, new in change.solvents.items()):
        return grown
    for dry in plan.of(Dry):
        if not _has_brine_before(grown, dry, lab.setup):
            grown = _brine_inserted(grown, dry, lab)
    return grown


def is_wet(solvent: str) -> bool:
    """Whether a solvent takes up so much water that it wants brine before drying."""
    return needs_brine({solvent: 1.0}, tables())


def _brine_to_match(plan: Plan, lab: Lab) -> Plan:
    """A brine wash grows with the organic layer it is for."""
    now = plan
    for _, step, outcome in lab.run(plan).of(Wash):
        if not outcome.facts.shakes or not bottle(step.material, lab.setup).is_brine:
            continue
        organic_mL = float(outcome.facts.shakes[0].organic_mL[0])
        if organic_mL * _BRINE_SHARE > step.volume_mL * 2:
            now = now.replacing(replace(step, volume_mL=_brine_volume(organic_mL)))
    return now


def _brine_volume(organic_mL: float) -> float:
    return handy(min(max(organic_mL * _BRINE_SHARE, _BRINE_mL[0]), _BRINE_mL[1]))


def _has_brine_before(plan: Plan, dry: Dry, setup: Setup) -> bool:
    """Whether the last shake that went into the flask to be dried was with brine."""
    for step in reversed(plan.steps[: plan.index(dry.id)]):
        if step.layers() and dry.flask in step.carries_on_in():
            return any(bottle(key, setup).is_brine for key in step.materials())
    return True


def _brine_of(setup: Setup) -> str:
    """The exercise's brine, its own before that of the shelf."""
    keys = (*(m.key for m in setup.own_materials), *setup.materials)
    return next((key for key in keys if bottle(key, setup).is_brine), BRINE)


def _brine_inserted(plan: Plan, dry: Dry, lab: Lab) -> Plan:
    at = plan.index(dry.id)
    run = lab.run_to(plan, at)
    flask = run.end.flasks[dry.flask]
    wash = Wash(
        id=plan.free_id("brine"), flask=dry.flask, material=_brine_of(lab.setup),
        volume_mL=_brine_volume(float(run.inventory.volume_mL(flask.organic)[0])),
        keep="upper", keep_in=dry.flask, other_in=SPENT_BRINE, settle_min=5.0)
    longer = plan.inserting(at, wash)
    if any(s.flask == SPENT_BRINE for s in plan.of(Discard)):
        return longer
    away = Discard(id=plan.free_id("discard-brine"), flask=SPENT_BRINE, stream="aqueous")
    return longer.inserting(len(longer.steps), away)


def with_drying(plan: Plan, lab: Lab, change: Change) -> Plan:
    """Agent that suits what came, as much as the water asks for, and rinses to match its cake."""
    for step in plan.of(Dry):
        if step.agent in unsuited_agents(change, lab.setup.tables):
            plan = plan.replacing(replace(step, agent=MILD_AGENT))
    for _, step, outcome in lab.run(plan).of(Dry):
        if outcome.facts.drying is not None:
            needed_g = float(outcome.facts.drying.needed_g[0])
            plan = plan.replacing(_enough_agent(step, needed_g))
    return _rinses_to_match(plan, lab) if change.solvents else plan


def _enough_agent(step: Dry, needed_g: float) -> Dry:
    if step.endpoint == "weighed":
        short = step.mass_g < needed_g
        return replace(step, mass_g=handy(needed_g * _AGENT_OVER)) if short else step
    if needed_g > _MOST_AGENT_PORTIONS * step.mass_g:
        return replace(step, mass_g=handy(needed_g / (_MOST_AGENT_PORTIONS - 2)))
    return step


def _rinses_to_match(plan: Plan, lab: Lab) -> Plan:
    """A cake of agent is rinsed with as much as it holds, each time."""
    for _, dry, outcome in lab.run(plan).of(Dry):
        if outcome.facts.drying is None:
            continue
        agent = tables().agents[dry.agent]
        cake_mL = float(outcome.facts.drying.mass_g[0]) * agent.cake.value
        for step in plan.of(Filter):
            if step.flask == dry.flask and step.rinses:
                wanted = handy(min(max(step.rinse_mL, cake_mL), _MOST_RINSE * step.rinse_mL))
                plan = plan.replacing(replace(step, rinse_mL=wanted))
    return plan


def unsuited_agents(change: Change, known: Tables) -> frozenset[str]:
    """Drying agents of the exercise that would take up what came in place of something."""
    came = {c for new in change.swaps.values() if new in known.substances
            for c in known.substances[new].classes}
    return frozenset(a for a in change.materials
                     if a in known.agents and known.agents[a].incompatible & came)


def with_stripping(plan: Plan, lab: Lab, change: Change) -> Plan:
    """Bath and pressure so that the new solvent boils as readily as the old one did.

    The bath becomes warmer only where too much of the solvent would stay: warmth costs product.
    """
    for step in plan.of(Strip):
        for old, new in change.solvents.items():
            if _holds(plan, step, new, lab):
                plan = _stripped_enough(plan, _ways_to_strip(step, old, new), lab)
    return plan


def _holds(plan: Plan, step: Strip, solvent: str, lab: Lab) -> bool:
    run = lab.run_to(plan, plan.index(step.id))
    flask = run.end.flasks.get(step.flask)
    return flask is not None and float(flask.organic[run.inventory.index[solvent], 0]) > 0.0


def _stripped_enough(plan: Plan, ways: list[Strip], lab: Lab) -> Plan:
    """The plan with the first way that leaves little solvent; the last one if none does."""
    for way in ways:
        plan = plan.replacing(way)
        run = lab.run_to(plan, plan.index(way.id) + 1)
        facts, flask = run.outcomes[-1].facts.strip, run.end.flasks[way.flask]
        whole_g = float(run.inventory.mass_g(flask.total())[0])
        if facts is not None and float(facts.left_solvent_g[0]) <= _SOLVENT_LEFT * whole_g:
            break
    return plan


def _ways_to_strip(step: Strip, old: str, new: str) -> list[Strip]:
    ratio = step.pressure_mbar / _boiling_mbar(old, step.bath_C)
    if step.method != "rotary":
        bath_C = _bath_for(new, step.pressure_mbar / ratio)
        if bath_C <= _WARMEST_C:
            return [replace(step, bath_C=float(round(bath_C)))]
        step = replace(step, method="rotary", bath_C=_OPEN_TO_ROTARY_C)
    pressure = min(max(handy(_boiling_mbar(new, step.bath_C) * ratio), _LEAST_mbar), _AIR_mbar)
    gentle = replace(step, pressure_mbar=pressure)
    warmer = range(int(step.bath_C) + 5, int(_WARMEST_C) + 1, 5)
    return [gentle, *(replace(gentle, bath_C=float(bath)) for bath in warmer)]


def _boiling_mbar(solvent: str, celsius: float) -> float:
    antoine = tables().substances[solvent].antoine
    assert antoine is not None, f"{solvent} has no vapour pressure"
    return antoine.pressure_Pa(celsius + KELVIN_AT_0_C) / MBAR_PA


def _bath_for(solvent: str, mbar: float) -> float:
    """The temperature [C] at which a solvent boils under a pressure, to a hundredth."""
    low, high = 0.0, 200.0
    while high - low > 0.01:
        middle = (low + high) / 2
        low, high = (middle, high) if _boiling_mbar(solvent, middle) < mbar else (low, middle)
    return high


def with_streams(plan: Plan, change: Change) -> Plan:
    """Waste streams after those of the solvents that are used now."""
    known = tables().solvents
    used = {known[key].waste_stream
            for step in plan.steps for key in step.materials() if key in known}
    gone = {known[old].waste_stream: known[new].waste_stream
            for old, new in change.solvents.items()}

    def stream(old: str) -> str:
        return old if old in used else gone.get(old, old)

    for step in plan.of(Discard):
        plan = plan.replacing(replace(step, stream=stream(step.stream)))
    return plan


def fullest_mL(plan: Plan, lab: Lab) -> float:
    """The most that any shake of a plan has in the funnel [mL]."""
    shakes = [s for o in lab.run(plan).outcomes for s in o.facts.shakes]
    return max((float(s.fill[0]) for s in shakes), default=0.0) * lab.setup.glassware.funnel_mL
