"""The separation scheme of a plan: vessels, the steps between them, and the product on its way.

Read off the steps alone; where the plan was carried out, the reports add what is in each vessel
and how much of each product.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from workups.chemistry.flow import Flow
from workups.chemistry.plan import START_FLASK, WASTE, Plan, Step
from workups.grading.assessment import PhaseReport, StepReport

Amounts = tuple[float, ...]

# Places of a product that no vessel of the plan is (workups/grading/reports.py).
_LOSSES = ("glass", "air", "gone")
WORTH_SAYING = 0.01


class Kind(StrEnum):
    """How an arm leads on: straight on in the same column, off to the side, or into what is
    there already."""

    ON = "on"
    ASIDE = "aside"
    JOINS = "joins"


@dataclass(frozen=True)
class Loss:
    """Share of a target (its position among the targets) that a step leaves in no vessel:
    ``glass``, ``air``, ``gone``, or ``kept back`` in the flask that was poured out."""

    place: str
    target: int
    share: float


@dataclass(frozen=True)
class Leg:
    """One step on the way between two vessels; ``at`` is its position in the plan."""

    at: int
    step: Step
    lost: tuple[Loss, ...] = ()


@dataclass(frozen=True)
class Vessel:
    """What a vessel holds after the step at ``at`` (-1: as the reaction left it).

    ``layer`` is ``upper`` or ``lower`` where the step parted two layers. ``shares`` (of all there
    was, in the order of the targets) and ``masses_g`` are empty where nothing was computed.
    ``weighed_at`` is the step that weighs it, ``discarded_at`` the one that pours it away.
    ``differs`` says how it is in another plan beside this one.
    """

    flask: str
    at: int
    layer: str = ""
    phases: tuple[PhaseReport, ...] = ()
    shares: Amounts = ()
    masses_g: Amounts = ()
    weighed_at: int | None = None
    discarded_at: int | None = None
    differs: str = ""


@dataclass(frozen=True)
class Arm:
    """The way from one vessel to another (positions among the vessels), with its steps; what of
    each target went that way."""

    source: int
    goal: int
    kind: Kind
    legs: tuple[Leg, ...]
    shares: Amounts = ()


@dataclass(frozen=True)
class Scheme:
    """Vessels in the order in which they come to hold what they hold, and the arms between."""

    plan: Plan
    targets: tuple[str, ...]
    vessels: tuple[Vessel, ...]
    arms: tuple[Arm, ...]


def scheme_of(plan: Plan, targets: Sequence[str], reports: Sequence[StepReport] = ()) -> Scheme:
    """The scheme of a plan, with amounts as far as its steps were carried out.

    >>> from workups.chemistry.plan import Separate
    >>> plan = Plan((Separate(id="1", flask="reaction flask", keep_in="ether", other_in="water"),))
    >>> [(v.flask, v.layer) for v in scheme_of(plan, ()).vessels]
    [('reaction flask', ''), ('ether', 'upper'), ('water', 'lower')]
    """
    drawn = _Growing(plan, tuple(targets), _Contents(plan, tuple(targets), reports))
    for at, step in enumerate(plan.steps):
        drawn.take(at, step)
    return drawn.finished()


@dataclass(frozen=True)
class _Contents:
    """What is in a vessel after a step, if the step was carried out."""

    plan: Plan
    targets: tuple[str, ...]
    reports: Sequence[StepReport]

    def report(self, at: int) -> StepReport | None:
        """The report of the step at a position; None where it was not carried out."""
        if not 0 <= at < len(self.plan.steps):
            return None
        wanted = self.plan.steps[at].id
        return next((r for r in self.reports if r.step == wanted and r.trail), None)

    def shares(self, at: int, *places: str) -> Amounts:
        """Share of each target in some places after a step; at -1 all is in the start flask."""
        if at < 0:
            return tuple(float(START_FLASK in places) for _ in self.targets) if self.reports else ()
        report = self.report(at)
        if report is None:
            return ()
        return tuple(
            sum(s.share for s in report.trail if s.target == target and s.place in places)
            for target in self.targets)

    def masses_g(self, at: int, place: str) -> Amounts:
        """Mass of each target in a place after a step [g]."""
        report = self.report(at)
        if report is None:
            return ()
        return tuple(
            sum(s.mass_g for s in report.trail if s.target == target and s.place == place)
            for target in self.targets)

    def gain(self, at: int, *places: str) -> Amounts:
        """What a step added to some places, of each target."""
        before, after = self.shares(at - 1, *places), self.shares(at, *places)
        if not before or not after:
            return ()
        return tuple(b - a for a, b in zip(before, after, strict=True))

    def lost(self, at: int, step: Step) -> tuple[Loss, ...]:
        """What a step leaves where the plan does not go on with it."""
        places = {place: self.gain(at, place) for place in _LOSSES}
        kept_back = set(step.takes()).difference(step.fills()) if step.pours() else set()
        if kept_back and not step.waste_stream:
            places["kept back"] = self.shares(at, *kept_back)
        return tuple(
            Loss(place, target, share)
            for place, gained in places.items()
            for target, share in enumerate(gained) if share >= WORTH_SAYING)

    def vessel(self, flask: str, at: int, layer: str = "") -> Vessel:
        """A vessel as it is after a step."""
        report = self.report(at)
        phases = tuple(p for p in report.phases if p.flask == flask) if report else ()
        return Vessel(
            flask, at, layer, phases, self.shares(at, flask), self.masses_g(at, flask))


@dataclass
class _Open:
    """A vessel that something is in, and what was done to it since it was drawn."""

    vessel: int
    legs: tuple[Leg, ...] = ()


@dataclass
class _Growing:
    """A scheme while it is read off the plan, step by step."""

    plan: Plan
    targets: tuple[str, ...]
    contents: _Contents
    vessels: list[Vessel] = field(default_factory=list)
    arms: list[Arm] = field(default_factory=list)
    open: dict[str, _Open] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._begin(START_FLASK, -1)

    def take(self, at: int, step: Step) -> None:
        """Add what one step does. Looks, labels and waits are no part of the picture."""
        if step.waste_stream:
            self._discard(at, step)
        elif step.is_passive or not (step.takes() or step.fills()):
            return
        elif _goals(step) and step.pours():
            self._pour(at, step)
        else:
            self._work_on(at, step)

    def finished(self) -> Scheme:
        """The scheme; each vessel that something was done to is drawn once more."""
        for flask, here in list(self.open.items()):
            if here.legs:
                self._end(flask, here)
        return Scheme(self.plan, self.targets, tuple(self.vessels), tuple(self.arms))

    def _end(self, flask: str, here: _Open) -> None:
        """A last picture of a vessel; weighing it alone makes none."""
        weighed_at = next((leg.at for leg in reversed(here.legs) if leg.step.weighs), None)
        legs = tuple(leg for leg in here.legs if not leg.step.weighs)
        goal = here.vessel
        if legs:
            vessel = self.contents.vessel(flask, legs[-1].at)
            goal = self._draw(vessel)
            self.arms.append(Arm(here.vessel, goal, Kind.ON, legs, vessel.shares))
        self.vessels[goal] = replace(self.vessels[goal], weighed_at=weighed_at)
        self.open[flask] = _Open(goal)

    def _begin(self, flask: str, at: int) -> _Open:
        self.open[flask] = _Open(self._draw(self.contents.vessel(flask, at)))
        return self.open[flask]

    def _draw(self, vessel: Vessel) -> int:
        self.vessels.append(vessel)
        return len(self.vessels) - 1

    def _work_on(self, at: int, step: Step) -> None:
        """A step that leaves what it acts on where it is."""
        for flask in step.fills() or step.takes():
            here = self.open.get(flask) or self._begin(flask, at - 1)
            here.legs += (Leg(at, step, self.contents.lost(at, step)),)

    def _discard(self, at: int, step: Step) -> None:
        for flask in step.takes():
            here = self.open.pop(flask, None)
            if here is None:
                continue
            if here.legs:
                self._end(flask, here)
                del self.open[flask]
            for i, vessel in enumerate(self.vessels):
                ends = not any(arm.source == i for arm in self.arms)
                if vessel.flask == flask and vessel.discarded_at is None and ends:
                    self.vessels[i] = replace(vessel, discarded_at=at)

    def _pour(self, at: int, step: Step) -> None:
        sources = [name for name in step.takes() if name in self.open]
        if not sources:
            sources = [step.takes()[0]]
            self._begin(sources[0], at - 1)
        first, *others = [self.open[name] for name in sources]
        leg = Leg(at, step, self.contents.lost(at, step))
        if not self._stays(step):
            for name in sources:
                del self.open[name]
        goals = [self._goal(at, step, flask) for flask in _goals(step)]
        straight = next((i for i, (_, joins) in enumerate(goals) if not joins), None)
        for i, (goal, _) in enumerate(goals):
            kind = Kind.ON if i == straight else Kind.ASIDE
            # The step is told once, on the first of its arms.
            legs = (*first.legs, leg) if i == (straight or 0) else ()
            went = self._went(at, self.vessels[goal].flask, first.vessel)
            self.arms.append(Arm(first.vessel, goal, kind, legs, went))
        for other in others:
            held = self.vessels[other.vessel].shares
            self.arms.append(Arm(other.vessel, goals[0][0], Kind.JOINS, other.legs, held))

    def _stays(self, step: Step) -> bool:
        """Whether the flask that a step takes from goes on by itself."""
        return not step.empties and not step.carries_on_in()

    def _went(self, at: int, flask: str, source: int) -> Amounts:
        if flask == self.vessels[source].flask:
            return self.contents.shares(at, flask)
        return self.contents.gain(at, flask)

    def _goal(self, at: int, step: Step, flask: str) -> tuple[int, bool]:
        """The vessel that a step fills, and whether it held something before: what is put aside
        for good is drawn by itself each time."""
        layer = next((name for name, goes in step.layers() if goes == flask), "")
        vessel = self.contents.vessel(flask, at, layer)
        before = self.open.get(flask)
        if before and not self._is_pooled(at, step, before, flask) and flask not in step.takes():
            goal = self._draw(vessel)
            held = self.contents.shares(at - 1, flask)
            self.arms.append(Arm(before.vessel, goal, Kind.ON, before.legs, held))
            self.open[flask] = _Open(goal)
            return goal, True
        if flask == WASTE or (before and flask not in step.takes()):
            gained = self.contents.gain(at, flask)
            vessel = replace(vessel, shares=gained, masses_g=(), phases=())
        goal = self._draw(vessel)
        if flask != WASTE:
            self.open[flask] = _Open(goal)
        return goal, False

    def _is_pooled(self, at: int, step: Step, before: _Open, flask: str) -> bool:
        is_aside = flask in step.sets_aside() and not before.legs
        return is_aside and not Flow(self.plan).taken_up_later(at, flask)


def _goals(step: Step) -> tuple[str, ...]:
    """Where a step puts what it takes; first what the plan goes on with, which may be the flask
    itself."""
    if step.waste_stream:
        return ()
    on, aside = step.carries_on_in(), step.sets_aside()
    stays = step.takes() if aside and not on and not step.empties else ()
    return tuple(dict.fromkeys((*stays, *on, *aside)))


def parted(scheme: Scheme, vessel: int) -> Amounts:
    """What goes on from a vessel, of each target, by all the arms that part there; empty where
    nothing is known."""
    ways = [
        arm.shares for arm in scheme.arms if arm.source == vessel and arm.kind is not Kind.JOINS]
    return tuple(sum(shares) for shares in zip(*ways, strict=True)) if all(ways) else ()
