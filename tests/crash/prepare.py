"""Run inside the program's own process (`manage.py shell -c`): make a course, and read it back."""

import json
import sys
from datetime import timedelta
from importlib import import_module

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.utils import timezone

from workups.documents import library_text, plan_to_data
from workups.models import (
    Course,
    ExerciseRevision,
    Person,
    PlanRevision,
    Reading,
    Role,
    Section,
    Work,
)
from workups.services import assessments
from workups.services.bench import start_bench
from workups.services.courses import enrol_person
from workups.services.exercises import AssignmentTerms, assign_revision, publish_revision
from workups.services.planning import save_plan, submit_plan

EXERCISE = "too-much-vinegar"
FIRST_PLAN = {
    "steps": [{"verb": "label", "id": "s1", "flask": "reaction flask", "text": "at first"}]
}


def prepare() -> None:
    """Two students of one section, one planning, one at the bench; prints what a client needs."""
    assessments.DRAWS = 4
    course = Course.objects.create(title="Kept", term="Autumn")
    section = Section.objects.create(course=course, name="A")
    instructor = add_person(course, "instructor", Role.INSTRUCTOR)
    planner = add_person(course, "planner", Role.STUDENT, section=section)
    weigher = add_person(course, "weigher", Role.STUDENT, section=section)
    revision = publish_revision(
        actor=instructor,
        course=course,
        key=EXERCISE,
        title=EXERCISE,
        document=library_text(EXERCISE),
    )
    now = timezone.now()
    terms = AssignmentTerms(now - timedelta(1), now + timedelta(1), now + timedelta(2))
    assign_revision(actor=instructor, revision=revision, section=section, terms=terms)
    plan, bench = begin_plan(planner), begin_bench(weigher, revision)
    clients = {"plan": client_of(planner, plan), "bench": client_of(weigher, bench)}
    json.dump(clients, sys.stdout)


def add_person(course: Course, name: str, role: Role, **enrolment: object) -> Person:
    person = Person.objects.create_user(name, None, display_name=name)
    enrol_person(course=course, person=person, role=role, **enrolment)
    return person


def begin_plan(person: Person) -> Work:
    work = Work.objects.get(enrolment__person=person)
    save_plan(actor=person, work=work, data=FIRST_PLAN, base_version=0, change="Began")
    return work


def begin_bench(person: Person, revision: ExerciseRevision) -> Work:
    work = Work.objects.get(enrolment__person=person)
    data = {"steps": plan_to_data(revision.to_core().model_plan)}
    save_plan(actor=person, work=work, data=data, base_version=0, change="Wrote the plan")
    submit_plan(actor=person, work=work, base_version=1)
    start_bench(actor=person, work=work)
    return work


def client_of(person: Person, work: Work) -> dict[str, str]:
    """A session that is signed in, and the work's public id."""
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.create()
    return {"session": session.session_key, "work": str(work.public_id)}


def read_back() -> None:
    """Print what is stored: each plan's label text by version, each reading's token and value."""
    plans = PlanRevision.objects.filter(work__enrolment__person__sign_in="planner")
    stored = {
        "versions": list(plans.order_by("version").values_list("version", flat=True)),
        "texts": [plan.data["steps"][0]["text"] for plan in plans.order_by("version")],
        "readings": [[str(r.client_token), str(r.value)] for r in Reading.objects.all()],
    }
    json.dump(stored, sys.stdout)
