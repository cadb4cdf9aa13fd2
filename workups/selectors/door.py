"""The door list of a section, and who is where during the lab."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from workups.grading.assessment import Assessment, Finding
from workups.grading.visibility import Moment
from workups.models import (
    AssessmentSnapshot,
    Assignment,
    BenchTick,
    HoldClearance,
    PlanRevision,
    Work,
)
from workups.selectors.bench_lines import BenchLine, bench_lines
from workups.selectors.holds import clearance_of, hold_findings
from workups.selectors.plans import PlanLine, plan_lines, submitted_plan
from workups.selectors.progress import current_works
from workups.selectors.student_findings import StudentFinding, student_findings
from workups.selectors.works import dates_of, record_is_locked

READY, MISSING, HELD, UNASSESSED = "ready", "missing", "held", "unassessed"
_ORDER = {HELD: 0, UNASSESSED: 1, MISSING: 2, READY: 3}
GAS_WORTH_A_TICK_mL = 20.0


@dataclass(frozen=True)
class DoorLine:
    """One student at the door: `state` is ready, missing (no plan), held (for a TA's word) or
    unassessed (it is not known yet whether it is held; admitting finds out first).

    `problem`: why the plan cannot be carried out as written, so that nothing was found in it.
    """

    work: Work
    state: str
    version: int | None = None
    handed_in: datetime | None = None
    is_late: bool = False
    holds: tuple[StudentFinding, ...] = ()
    cleared_by: str = ""
    problem: str = ""

    @property
    def is_admitted(self) -> bool:
        return self.work.admitted_at is not None

    @property
    def may_be_admitted(self) -> bool:
        return self.state in (READY, UNASSESSED) and not self.is_admitted


def door_lines(assignment: Assignment) -> list[DoorLine]:
    """Everybody of the section, who needs a word first."""
    lines = [door_line(work) for work in section_works(assignment)]
    return sorted(lines, key=lambda line: (_ORDER[line.state], line.is_admitted, not line.problem))


def handed_in_lines(work: Work, holds: Iterable[StudentFinding]) -> list[PlanLine]:
    """The plan handed in, step by step, each with what it is held for; empty where none is."""
    plan = submitted_plan(work)
    lines = plan_lines(plan.data, work.to_core()) if plan else []
    return [
        replace(line, findings=tuple(f for f in holds if f.step_number == line.number))
        for line in lines
    ]


def section_works(assignment: Assignment) -> Iterable[Work]:
    return (
        current_works([assignment.pk])
        .select_related(
            "enrolment__person",
            "assignment__section",
            "revision__course",
            "bench_record__plan_revision",
            "admitted_by",
        )
        .order_by("enrolment__person__display_name", "pk")
    )


def door_line(work: Work) -> DoorLine:
    """Where one student stands at the door."""
    plan = submitted_plan(work)
    if plan is None:
        return DoorLine(work, MISSING)
    holds = hold_findings(plan) if work.is_assessed else []
    clearance = clearance_of(plan)
    return DoorLine(
        work,
        _state_at_door(work, holds, clearance),
        version=plan.version,
        handed_in=plan.submitted_at,
        is_late=plan.submitted_at is not None and plan.submitted_at > dates_of(work).plan_due,
        holds=()
        if clearance
        else tuple(student_findings(holds, plan.to_core(), Moment.RELEASED)),
        cleared_by=str(clearance.by) if clearance else "",
        problem=work.hand_in_problem,
    )


def _state_at_door(work: Work, holds: Sequence[Finding], clearance: HoldClearance | None) -> str:
    if work.is_being_assessed:
        return UNASSESSED
    return HELD if clearance is None and (holds or work.cannot_be_carried_out) else READY


@dataclass(frozen=True)
class WantedTick:
    """Something at the bench that waits for a TA's eyes."""

    kind: str
    title: str
    step_id: str
    number: int | None


@dataclass(frozen=True)
class LabLine:
    """Where one student is: steps done of all, the step at hand, and what waits for a tick."""

    work: Work
    state: str
    done: int = 0
    steps: int = 0
    at_hand: BenchLine | None = None
    waits: tuple[WantedTick, ...] = ()

    @cached_property
    def owners(self) -> list[Work]:
        """The works that share the record; the work alone where none is begun."""
        record = self.work.bench_record
        if record is None:
            return [self.work]
        return list(record.works.select_related("enrolment__person"))

    @property
    def names(self) -> str:
        return ", ".join(str(work.student) for work in self.owners)

    @property
    def may_part(self) -> list[Work]:
        """The owners of whom one could be taken out of the record, having been absent."""
        shared = len(self.owners) > 1 and self.state == "at the bench"
        return self.owners if shared else []


def lab_lines(assignment: Assignment) -> list[LabLine]:
    """One line a bench record, those who wait for a tick first, then those not begun."""
    lines: list[LabLine] = []
    seen: set[int] = set()
    for work in section_works(assignment):
        if work.bench_record_id is not None and work.bench_record_id in seen:
            continue
        if work.bench_record_id is not None:
            seen.add(work.bench_record_id)
        lines.append(_lab_line(work))
    return sorted(lines, key=lambda line: (not line.waits, line.state != "at the bench"))


def _lab_line(work: Work) -> LabLine:
    record = work.bench_record
    if record is None:
        return LabLine(work, "admitted" if work.admitted_at else "not begun")
    lines = bench_lines(record, work.to_core())
    done = sum(bool(line.mark) for line in lines)
    if record_is_locked(record):
        return LabLine(work, "readings locked", done, len(lines))
    return LabLine(
        work,
        "at the bench",
        done,
        len(lines),
        at_hand=next((line for line in lines if line.is_next), None),
        waits=tuple(wanted_ticks(lines, gassy_steps(record.plan_revision))),
    )


def gassy_steps(plan: PlanRevision) -> frozenset[str]:
    """Shakes of a plan that set enough gas free to be vented under a TA's eyes."""
    snapshot = AssessmentSnapshot.objects.filter(plan_revision=plan).first()
    if snapshot is None:
        return frozenset()
    assessment: Assessment = snapshot.to_core()
    partings = {step.id for step in plan.to_core().steps if step.layers()}
    return frozenset(
        report.step
        for report in assessment.steps
        if report.step in partings
        and report.gas is not None
        and report.gas.dry_mL_high >= GAS_WORTH_A_TICK_mL
    )


def wanted_ticks(lines: Iterable[BenchLine], gassy: frozenset[str]) -> Iterable[WantedTick]:
    """Ticks wanted of steps that were carried out and have none."""
    for line in lines:
        if not line.mark or line.mark == "skipped":
            continue
        kind = _kind_wanted(line, gassy)
        if kind and kind not in {tick.kind for tick in line.ticks}:
            title = BenchTick.Kind(kind).label
            yield WantedTick(kind, title, line.id, line.number)


def _kind_wanted(line: BenchLine, gassy: frozenset[str]) -> str:
    if line.step.verb == "quench":
        return BenchTick.Kind.QUENCH
    if line.id in gassy:
        return BenchTick.Kind.VENTED
    kinds = {"tare": BenchTick.Kind.TARE, "weigh": BenchTick.Kind.GROSS}
    return kinds.get(line.step.verb, "")
