"""Reports as students hand them in, made by the services that the pages use."""

from decimal import Decimal
from uuid import uuid4

from tests.entries import enter
from workups.documents import plan_to_data
from workups.models import AssessmentSnapshot, Person, ReadingKind, Review, Work
from workups.selectors.marks import newest_snapshot
from workups.services.bench import start_bench
from workups.services.entries import EntryOrigin, ReadingValues
from workups.services.planning import save_plan, submit_plan
from workups.services.reports import lock_readings, submit_report

TARGET = "hexyl_acetate"
USUAL = ("45.30", "51.62", "51.62")
TOO_MUCH = ("45.30", "54.50", "54.50")
SWAPPED = ("51.62", "45.30", "45.30")


def weigh(work: Work, student: Person, masses: tuple[str, ...]) -> None:
    """Tare, then gross readings, in g on a balance that shows two decimals."""
    for kind, mass in zip(("tare", "gross", "gross"), masses, strict=True):
        enter(work.bench_record, EntryOrigin(by=student, client_token=uuid4()), ReadingValues(
                kind=ReadingKind(kind),
                subject=TARGET,
                value=Decimal(mass),
                decimals=2,
                unit="g",
                readability=Decimal("0.01"),
                on_pan=["flask"],
            ))


def hand_in_plan(work: Work, change=lambda plan: plan) -> Work:
    """The model plan, or what `change` makes of it, handed in."""
    plan = change(work.revision.to_core().model_plan)
    student = work.student
    save_plan(
        actor=student, work=work, data={"steps": plan_to_data(plan)}, base_version=0, change="Wrote"
    )
    submit_plan(actor=student, work=work, base_version=1)
    return work


def hand_in_report(
    work: Work,
    masses: tuple[str, ...] = USUAL,
    change=lambda plan: plan,
    explanation: str = "Fine.",
) -> Work:
    """From the plan to the report handed in."""
    hand_in_plan(work, change)
    start_bench(actor=work.student, work=work)
    weigh(work, work.student, masses)
    lock_readings(actor=work.student, record=work.bench_record)
    submit_report(actor=work.student, work=work, explanation=explanation)
    work.refresh_from_db()
    return work


def put_out(work: Work) -> None:
    """The report released as it stands, without a TA's hand in it."""
    Review.objects.filter(work=work).update(
        state=Review.State.RELEASED, snapshot=newest_snapshot(work)
    )


def assess_as(work: Work, check_name: str, points: float) -> None:
    """Another assessment of the report, in which one check has these points."""
    before = newest_snapshot(work)
    copied = {
        field.name: getattr(before, field.name)
        for field in AssessmentSnapshot._meta.fields
        if field.name not in ("id", "public_id", "made_at", "assessment")
    }
    checks = [
        {**check, "points": points} if check["name"] == check_name else check
        for check in before.assessment["checks"]
    ]
    AssessmentSnapshot(**copied, assessment={**before.assessment, "checks": checks}).save()
