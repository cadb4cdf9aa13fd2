import pytest
from django.conf import LazySettings

from workups.models import Course, Enrolment, Person, Role, Section
from workups.services.courses import enrol_person


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


@pytest.fixture(autouse=True)
def _fast_passwords(settings: LazySettings) -> None:
    """Hashing is slow on purpose; here it would only be slow."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


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
