"""What stands in, beside and instead of a drawn scheme."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from workups.chemistry.plan import WASTE, Step
from workups.exercise.exercise import Exercise
from workups.grading.assessment import PhaseReport
from workups.sheets.scheme.structure import Kind, Leg, Loss, Scheme, Vessel
from workups.words.material_facts import substance_word
from workups.words.numbers import NBSP, fixed, joined, percent, rounded
from workups.words.sentences import STREAM_TITLES, step_heading

_ACID_BELOW, _BASE_ABOVE = 4.5, 9.5
_LEAST_SHARE, _LEAST_OF_SEVERAL, _LEAST_OF_VESSEL = 0.005, 0.015, 0.02
_PLACES = {
    "glass": "stays on glass",
    "air": "evaporates",
    "gone": "is turned into something else",
    "kept back": "stays behind",
}


@dataclass(frozen=True)
class Words:
    """The words of one scheme. ``remarks`` has, by step id, what was found there;
    ``shares_only``, for students before release, leaves grams of product out."""

    scheme: Scheme
    exercise: Exercise
    shares_only: bool
    remarks: Mapping[str, Sequence[str]] = field(default_factory=dict)

    @property
    def has_several(self) -> bool:
        """Whether shares need the name of their product beside them."""
        return len(self.scheme.targets) > 1

    def target(self, position: int) -> str:
        """The product's name."""
        return substance_word(self.scheme.targets[position], self.exercise.setup.tables)

    def leg(self, leg: Leg) -> str:
        """A step in a few words, with its number."""
        return f"{leg.at + 1}{NBSP}{step_heading(leg.step, self.exercise)}"

    def losses(self, leg: Leg) -> list[str]:
        """What a step leaves in no vessel."""
        return [self._loss(loss) for loss in leg.lost]

    def _loss(self, loss: Loss) -> str:
        of = f" of {self.target(loss.target)}" if self.has_several else ""
        return f"{percent(loss.share)}{of} {_PLACES[loss.place]}"

    def found(self, step: Step) -> Sequence[str]:
        """What was found at a step."""
        return self.remarks.get(step.id, ())

    def contents(self, vessel: Vessel) -> list[str]:
        """What is in a vessel: the layer, and each phase with volume and pH."""
        if not vessel.phases:
            return [f"{vessel.layer} layer"] if vessel.layer else []
        whole = sum(phase.volume_mL for phase in vessel.phases)
        told = [_phase(p) for p in vessel.phases if _is_worth_saying(p, whole)]
        if vessel.layer and told:
            told[0] = f"{vessel.layer}: {told[0]}"
        return told

    def shares(self, vessel: Vessel) -> list[str]:
        """How much of each product is in a vessel; that there is none only where it is weighed."""
        least = _LEAST_OF_SEVERAL if self.has_several else _LEAST_SHARE
        told = [
            self._share(vessel, i, share)
            for i, share in enumerate(vessel.shares) if share >= least]
        is_empty = vessel.weighed_at is not None and bool(vessel.shares) and not told
        return ["no product"] if is_empty else told

    def _share(self, vessel: Vessel, target: int, share: float) -> str:
        mass_g = vessel.masses_g[target] if vessel.masses_g and not self.shares_only else 0.0
        mass = f", {rounded(mass_g, 'g', 3)}" if mass_g else ""
        name = self.target(target) if self.has_several else "product"
        return f"{name} {percent(share)}{mass}"

    def fate(self, vessel: Vessel) -> str:
        """What becomes of a vessel that nothing leads on from."""
        if vessel.flask == WASTE:
            return "poured away at once"
        if vessel.weighed_at is not None:
            return f"weighed, step{NBSP}{vessel.weighed_at + 1}"
        if vessel.discarded_at is not None:
            step = self.scheme.plan.steps[vessel.discarded_at]
            stream = STREAM_TITLES.get(step.waste_stream, WASTE)
            return f"to {stream}, step{NBSP}{vessel.discarded_at + 1}"
        return ""

    def all_of(self, vessel: Vessel) -> list[str]:
        """All that is told of a vessel, most of all how it is in a plan beside this one."""
        differs = f"◆ {vessel.differs}" if vessel.differs else ""
        told = (*self.contents(vessel), *self.shares(vessel), self.fate(vessel), differs)
        return [words for words in told if words]

    def name(self, vessel: Vessel) -> str:
        """The vessel's own name, with nothing around it."""
        return vessel.flask

    def sentences(self) -> Iterator[str]:
        """The scheme to be read from top to bottom, a sentence for each step and vessel."""
        first = self.scheme.vessels[0]
        yield f"Start: {self._vessel(first)}."
        for i, vessel in enumerate(self.scheme.vessels[1:], 1):
            arms = [arm for arm in self.scheme.arms if arm.goal == i]
            steps = "; then ".join(
                "; ".join((self.leg(leg), *self.losses(leg), *self.found(leg.step)))
                for leg in self._legs_to(i))
            sources = joined(
                list(dict.fromkeys(f"‘{self.scheme.vessels[arm.source].flask}’" for arm in arms)))
            aside = all(arm.kind is not Kind.ON for arm in arms)
            start = f"From {sources}" if arms else "New"
            how = f", step {steps}" if steps else ", set aside" if aside else ""
            yield f"{start}{how}: {self._vessel(vessel)}."

    def _legs_to(self, vessel: int) -> Iterator[Leg]:
        return (leg for arm in self.scheme.arms if arm.goal == vessel for leg in arm.legs)

    def _vessel(self, vessel: Vessel) -> str:
        return ", ".join((f"‘{vessel.flask}’", *self.all_of(vessel)))

    def header(self) -> tuple[str, ...]:
        """The heads of the table."""
        return ("Steps", "Vessel", "What is in it", "Product", "Then")

    def rows(self) -> tuple[tuple[str, ...], ...]:
        """The table: one row for each vessel."""
        return tuple(
            (
                ", ".join(str(leg.at + 1) for leg in self._legs_to(i)),
                vessel.flask,
                "; ".join(self.contents(vessel)),
                "; ".join(self.shares(vessel)),
                self.fate(vessel),
            )
            for i, vessel in enumerate(self.scheme.vessels))


def _is_worth_saying(phase: PhaseReport, whole_mL: float) -> bool:
    """Droplets and films are left out: a little of what a vessel holds."""
    return phase.phase == "solid" or phase.volume_mL >= _LEAST_OF_VESSEL * whole_mL


def _phase(phase: PhaseReport) -> str:
    if phase.phase == "solid":
        return "solid"
    words = f"{phase.phase.replace('_', ' ')}, {rounded(phase.volume_mL, 'mL', 2)}"
    if phase.phase != "aqueous" or phase.pH is None:
        return words
    kind = ", acid" if phase.pH < _ACID_BELOW else ", base" if phase.pH > _BASE_ABOVE else ""
    return f"{words}, pH{NBSP}{fixed(phase.pH, 1)}{kind}"
