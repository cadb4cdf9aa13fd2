import gc
from collections.abc import Iterator
from datetime import timedelta
from uuid import UUID

import pytest
from django.apps import apps
from django.conf import LazySettings
from django.db import connection
from django.db.backends.base.operations import BaseDatabaseOperations
from django.utils import timezone

from tests.row_order import Watched
from workups.append_only_triggers import create_triggers, drop_triggers
from workups.chemistry.plan import Plan
from workups.chemistry.readings import Readings
from workups.documents import library_text, plan_to_data
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment
from workups.models import (
    AppendOnlyModel,
    Assignment,
    Course,
    Enrolment,
    ExerciseRevision,
    Person,
    Role,
    Section,
    Work,
)
from workups.services.bench import start_bench
from workups.services.courses import enrol_person
from workups.services.exercises import AssignmentTerms, assign_revision, publish_revision
from workups.services.planning import save_plan, submit_plan
from workups.services.works import start_work


def pytest_collection_finish() -> None:
    """All that is loaded by now stays, and need not be searched for what is not used any more: with
    so many objects that took a tenth of the processor time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """On SQLite the tests use a file, as the program does, so that locks and WAL are the real ones.

    The file lies in this run's own temporary folder; only its commits do not wait for the disk.
    """
    from django.conf import settings

    database = settings.DATABASES["default"]
    if database["ENGINE"] != "django.db.backends.sqlite3":
        return
    database["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "tests.sqlite3")
    options = database["OPTIONS"]
    options["init_command"] = options["init_command"].replace("synchronous=FULL", "synchronous=OFF")


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None) -> None:
    """Tests that commit empty all tables afterwards: for that the guards of rows are taken down."""
    flush = BaseDatabaseOperations.execute_sql_flush
    guarded = [m._meta.db_table for m in apps.get_models() if issubclass(m, AppendOnlyModel)]

    def flush_unguarded(operations: BaseDatabaseOperations, statements: list[str]) -> None:
        connection = operations.connection
        around = drop_triggers(connection, guarded), create_triggers(connection, guarded)
        flush(operations, [*around[0], *statements, *around[1]])

    BaseDatabaseOperations.execute_sql_flush = flush_unguarded  # type: ignore[method-assign]


@pytest.fixture(autouse=True)
def _fast_passwords(settings: LazySettings) -> None:
    """Hashing is slow on purpose; here it would only be slow."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def rows_taken(request: pytest.FixtureRequest) -> Iterator[Watched]:
    """Every service takes rows in one order, so that no two wait for each other."""
    watched = Watched()
    uses_rows = "db" in request.fixturenames or request.node.get_closest_marker("django_db")
    several_in_one = request.node.get_closest_marker("several_in_one_transaction")
    # SQLite has no locks of rows.
    if not uses_rows or several_in_one or connection.vendor != "postgresql":
        yield watched
        return
    request.getfixturevalue("db")
    with connection.execute_wrapper(watched):
        yield watched
    assert watched.backwards == []


@pytest.fixture
def expected_failures() -> None:
    """For a test that means the core to fail: what `computing` logs is not a failure of it."""


@pytest.fixture(autouse=True)
def _no_failure_is_swallowed(
    request: pytest.FixtureRequest, caplog: pytest.LogCaptureFixture
) -> Iterator[None]:
    """The boundary around the core turns every exception into a state; a test has to notice."""
    yield
    if "expected_failures" in request.fixturenames:
        return
    records = [*caplog.get_records("setup"), *caplog.get_records("call")]
    logged = [r for r in records if r.name == "workups.services.computing"]
    assert not logged, [r.getMessage() for r in logged]


@pytest.fixture
def course(db: None) -> Course:
    return Course.objects.create(title="Organic Laboratory II", term="Autumn")


@pytest.fixture
def section(course: Course) -> Section:
    return Section.objects.create(course=course, name="Tuesday A", meets="Tuesday 13:00, room 2")


@pytest.fixture
def other_section(course: Course) -> Section:
    return Section.objects.create(course=course, name="Thursday B", meets="Thursday 9:00, room 2")


def make_member(course: Course, sign_in: str, role: Role, **enrolment: object) -> Person:
    """An invented person with the password "correct horse" and a role in the course."""
    person = Person.objects.create_user(
        sign_in,
        "correct horse",
        display_name=sign_in.replace(".", " ").title(),
        email=f"{sign_in}@larkmoor.example",
    )
    enrol_person(course=course, person=person, role=role, **enrolment)
    return person


@pytest.fixture
def instructor(course: Course) -> Person:
    return make_member(course, "iris.instructor", Role.INSTRUCTOR)


@pytest.fixture
def ta(course: Course, section: Section) -> Person:
    """Assigned to `section`, not to `other_section`."""
    return make_member(course, "tariq.assistant", Role.TA, assigned_sections=[section])


@pytest.fixture
def student(course: Course, section: Section) -> Person:
    return make_member(course, "stina.student", Role.STUDENT, section=section)


@pytest.fixture
def stockroom(course: Course) -> Person:
    return make_member(course, "stan.stockroom", Role.STOCKROOM)


@pytest.fixture
def outsider(db: None) -> Person:
    """Somebody who signs in and is instructor of another course."""
    other = Course.objects.create(title="Another course", term="Autumn")
    return make_member(other, "otto.outsider", Role.INSTRUCTOR)


@pytest.fixture
def enrolment_of(course: Course):
    """The enrolment of a person in `course`."""
    return lambda person: Enrolment.objects.get(course=course, person=person)


@pytest.fixture
def few_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """The real computation with a coarse band: pages and rows do not depend on its width.

    It is pure, so what one test has computed is kept for the next.
    """
    monkeypatch.setattr("workups.services.assessments.DRAWS", 4)
    monkeypatch.setattr("workups.services.assessments.assess", assess_once)


_ASSESSED: dict[str, Assessment] = {}


def assess_once(
    exercise: Exercise, plan: Plan, readings: Readings | None, *, seed: int, draws: int
) -> Assessment:
    key = repr((exercise, plan, readings, seed, draws))
    if key not in _ASSESSED:
        _ASSESSED[key] = assess(exercise, plan, readings, seed=seed, draws=draws)
    return _ASSESSED[key]


@pytest.fixture
def revision(course: Course, instructor: Person) -> ExerciseRevision:
    """The shipped ester exercise, published in `course`.

    Its public id, and with it the seed, is the same in every test, so that the model plan is
    computed once.
    """
    published = publish_revision(
        actor=instructor,
        course=course,
        key="too-much-vinegar",
        title="Too much vinegar",
        document=library_text("too-much-vinegar"),
    )
    published.public_id = UUID("3f2c1f6e-5f0a-4a53-9d0e-6a1f6a1f6a1f")
    published.save(update_fields=["public_id"])
    return published


@pytest.fixture
def terms() -> AssignmentTerms:
    """Open since yesterday, plan due in two days, report in a week; pairs are allowed."""
    now = timezone.now()
    return AssignmentTerms(
        opens_at=now - timedelta(days=1),
        plan_due=now + timedelta(days=2),
        report_due=now + timedelta(days=7),
        group_size=2,
    )


@pytest.fixture
def assignment(
    revision: ExerciseRevision, section: Section, instructor: Person, terms: AssignmentTerms
) -> Assignment:
    return assign_revision(actor=instructor, revision=revision, section=section, terms=terms)


@pytest.fixture
def classmate(course: Course, section: Section) -> Person:
    return make_member(course, "sven.student", Role.STUDENT, section=section)


@pytest.fixture
def work(assignment: Assignment, student: Person, enrolment_of) -> Work:
    """The student's work on the assignment, not begun."""
    return start_work(assignment=assignment, enrolment=enrolment_of(student))


@pytest.fixture
def classmates_work(assignment: Assignment, classmate: Person, enrolment_of) -> Work:
    return start_work(assignment=assignment, enrolment=enrolment_of(classmate))


@pytest.fixture
def planned_work(work: Work, student: Person) -> Work:
    """With the model plan saved as the student's own draft, version 1."""
    data = {"steps": plan_to_data(work.revision.to_core().model_plan)}
    save_plan(actor=student, work=work, data=data, base_version=0, change="Wrote the plan")
    return work


@pytest.fixture
def submitted_work(planned_work: Work, student: Person, few_draws: None) -> Work:
    submit_plan(actor=student, work=planned_work, base_version=1)
    return planned_work


@pytest.fixture
def bench_work(submitted_work: Work, student: Person) -> Work:
    """With an open bench record that follows the model plan."""
    start_bench(actor=student, work=submitted_work)
    return submitted_work
