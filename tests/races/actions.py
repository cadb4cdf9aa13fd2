"""What people do, each as one request does it: fetch, then call the service. By stage."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

from tests.races.world import World, first_step, other_points, tare, weeks_later
from workups.documents.variants import Variant
from workups.grading.reagent_table import LineAnswers
from workups.models import BenchTick, ComparedReport, DraftState, MarkQuery, Role
from workups.selectors.plans import current_plan
from workups.services import (
    assessments,
    bench,
    courses,
    door,
    drafts,
    entries,
    exercises,
    moving,
    new_term,
    plan_edits,
    planning,
    publishing,
    reagents,
    reports,
    review,
    self_checks,
    standards,
    station,
    try_outs,
    variants,
    works,
)
from workups.services.roster import apply, compare, read

Action = Callable[[World], Any]


# A student before the bench


def open_work(w: World) -> Any:
    return works.start_works_of(enrolment=w.enrolment())


def fill_reagents(w: World) -> Any:
    return reagents.save_reagent_table(
        work=w.work(), answers={"1_hexanol": LineAnswers(molar_mass="102.2")}
    )


def save_draft_of_plan(w: World) -> Any:
    step = {"id": f"s{uuid4().hex[:6]}", "verb": "wash", "typed": {"text": "later"}}
    return planning.edit_plan(
        actor=w.student,
        work=w.work(),
        base_version=_version(w),
        edit=plan_edits.add_step(step, "Added a step"),
    )


def add_same_step(w: World) -> Any:
    """The button that adds a step, of a page that both clicks see."""
    step = {"id": "clicked", "verb": "label", "typed": {}}
    edit = plan_edits.add_step(step, "Added a label")
    return planning.edit_plan(actor=w.student, work=w.work(), base_version=1, edit=edit)


def _version(w: World) -> int:
    current = current_plan(w.work())
    return current.version if current else 0


def submit_plan(w: World) -> Any:
    return planning.submit_plan(actor=w.student, work=w.work(), base_version=_version(w))


def self_check(w: World) -> Any:
    return self_checks.self_check(actor=w.student, work=w.work())


def start_bench(w: World) -> Any:
    return bench.start_bench(actor=w.student, work=w.work())


def ask_to_share(w: World) -> Any:
    code = w.work("sven.student").bench_code
    return bench.ask_to_share(actor=w.student, work=w.work(), code=code)


# At the bench


def record_reading(w: World) -> Any:
    return w.say(tare())


def correct_reading(w: World) -> Any:
    return w.say(entries.Correction(w.reading, tare(), "misread"))


def withdraw_reading(w: World) -> Any:
    return w.say(entries.Correction(w.reading, None, "wrong flask"))


def record_step(w: World) -> Any:
    return w.say(first_step(w))


def withdraw_step(w: World) -> Any:
    return w.say(entries.StepTakenBack(first_step(w).step_id))


def replay_queue(w: World) -> Any:
    """From a device that has seen nothing of what stands."""
    return entries.record_entries(
        record=w.record, entries=[w.entry(tare()), w.entry(first_step(w))], seen=()
    )


def type_sheet(w: World) -> Any:
    sheet = entries.TypedSheet({"tare": "45.40"}, [w.entry(first_step(w)), w.entry(tare())])
    return entries.keep_typing(
        actor=w.ta, record=w.record, token=uuid4(), turn=1, sheet=sheet, store=True
    )


def supply_readings(w: World) -> Any:
    return entries.supply_readings(
        actor=w.ta, work=w.work(), token=uuid4(), entries=[tare()], reason="a spilled flask"
    )


def answer_share(w: World) -> Any:
    return bench.answer_share(actor=w.student, asked=w.asked, grant=True)


def leave_bench(w: World) -> Any:
    return bench.leave_bench(actor=w.ta, work=w.work("sven.student"), reason="absent")


def lock_readings(w: World) -> Any:
    return reports.lock_readings(actor=w.student, record=w.record)


def submit_report(w: World) -> Any:
    return reports.submit_report(actor=w.student, work=w.work(), explanation="Fine, I think.")


def query_mark(w: World) -> Any:
    return reports.query_mark(actor=w.student, work=w.work(), check_name="order", text="And?")


def set_station_pin(w: World) -> Any:
    return station.set_station_pin(actor=w.student, work=w.work(), pin="4711")


# A TA


def admit_work(w: World) -> Any:
    return door.admit_work(actor=w.ta, work=w.work())


def take_back_admission(w: World) -> Any:
    return door.take_back_admission(actor=w.ta, work=w.work())


def clear_hold(w: World) -> Any:
    return door.clear_hold(actor=w.ta, work=w.work(), reason="looked at")


def tick_bench(w: World) -> Any:
    return bench.tick_bench(actor=w.ta, record=w.record, kind=BenchTick.Kind.values[0])


def adjust_points(w: World) -> Any:
    return review.adjust_points(actor=w.ta, work=w.work(), change=other_points(w, "2"))


def take_back_adjustment(w: World) -> Any:
    return review.take_back_adjustment(actor=w.ta, adjustment=w.adjustment, reason="too strict")


def comment_report(w: World) -> Any:
    comment = review.CommentText("Dry it longer.", keep=True)
    return review.comment_report(actor=w.ta, work=w.work(), comment=comment)


def accept_report(w: World) -> Any:
    return review.accept_report(actor=w.ta, work=w.work())


def return_report(w: World) -> Any:
    return review.return_report(actor=w.ta, work=w.work(), reason="The tare is missing.")


def return_partners_report(w: World) -> Any:
    return review.return_report(actor=w.ta, work=w.work("sven.student"), reason="Weigh again.")


def release_section(w: World) -> Any:
    return review.release_section(actor=w.ta, assignment=w.assignment)


def open_results(w: World) -> Any:
    return review.open_results(actor=w.instructor, assignment=w.assignment, reason="end of term")


def answer_query(w: World) -> Any:
    query = MarkQuery.objects.get()
    return review.answer_query(actor=w.ta, query=query, answer=f"So it is, {uuid4().hex[:4]}.")


def assess_again(w: World) -> Any:
    return assessments.assess_work(actor=w.ta, work=w.work(), reason="again")


def assess_left_over(w: World) -> Any:
    return reports.assess_left_over(assignment=w.assignment, failed_too=True)


def choose_report(w: World) -> Any:
    return standards.choose_report(
        actor=w.instructor, work=w.work(), purpose=ComparedReport.Purpose.ANCHOR
    )


def draw_second_readings(w: World) -> Any:
    return standards.draw_second_readings(actor=w.instructor, revision=w.revision)


# An instructor


def give_variant_to_student(w: World) -> Any:
    return variants.give_variant_to_student(
        actor=w.instructor, work=w.work(), variant=w.half, reason="small funnel"
    )


def give_variant_to_section(w: World) -> Any:
    return variants.give_variant_to_section(
        actor=w.instructor, assignment=w.assignment, variant=w.half
    )


def add_variant(w: World) -> Any:
    return variants.add_variant(
        actor=w.instructor, revision=w.revision, title="A fifth", variant=Variant(scale=0.2)
    )


def drop_variant(w: World) -> Any:
    return variants.drop_variant(actor=w.instructor, variant=w.half)


def move_students(w: World) -> Any:
    """Whoever shares the record moves along."""
    mine = w.work()
    moving_works = [mine]
    if mine.bench_record is not None:
        moving_works = [w.work(x.student.sign_in) for x in mine.bench_record.works.all()]
    return moving.move_students(
        actor=w.instructor,
        assignment=w.assignment,
        revision=w.newer,
        works=moving_works,
        reason="a slip in the rubric",
    )


def take_back_move(w: World) -> Any:
    return moving.take_back_move(actor=w.instructor, move=w.move)


def give_newer_revision(w: World) -> Any:
    given = publishing.SectionTerms(w.section, w.terms)
    return publishing.give_to_sections(actor=w.instructor, revision=w.newer, to=[given])


def change_terms(w: World) -> Any:
    return exercises.change_terms(
        actor=w.instructor, assignment=w.assignment, terms=weeks_later(w.terms, 1)
    )


def give_extension(w: World) -> Any:
    return exercises.give_extension(
        actor=w.instructor,
        assignment=w.assignment,
        enrolment=w.enrolment(),
        reason="ill",
        report_due=weeks_later(w.terms, 2).report_due,
    )


def switch_section(w: World) -> Any:
    """By the roster, as instructors do it."""
    enrolment = w.enrolment()
    line = f"{enrolment.person.display_name},stina.student,,,{w.other_section.name},"
    return _bring(w, line)


def bring_newcomer(w: World) -> Any:
    return _bring(w, f"Nils,nils.newcomer,,,{w.section.name},")


def _bring(w: World, line: str) -> Any:
    roster = read.read_roster(f"name,sign_in,email,role,section,outside_id\n{line}\n")
    shown = compare.compare_roster(
        course=w.course, instructor=w.instructor, roster=roster, remove_missing=False
    )
    return apply.apply_roster(
        course=w.course,
        actor=w.instructor,
        roster=roster,
        remove_missing=False,
        expected_digest=shown.digest,
    )


def leave_course(w: World) -> Any:
    return courses.end_enrolment(actor=w.instructor, enrolment=w.enrolment())


def come_back(w: World) -> Any:
    return courses.enrol_person(
        course=w.course, person=w.student, role=Role.STUDENT, section=w.section
    )


def save_draft(w: World) -> Any:
    """A colleague saves another text; gives it, so that it can be looked for."""
    draft = w.draft
    text = draft.document.replace("order = 28", "order = 27")
    drafts.save_draft(
        actor=w.ta, draft=draft, document=text, base_version=draft.version
    )
    return text


def restore_draft(w: World) -> Any:
    draft = w.draft
    return drafts.restore_draft(
        actor=w.instructor,
        draft=draft,
        to_version=DraftState.objects.filter(draft=draft).earliest("version").version,
        base_version=draft.version,
    )


def discard_draft(w: World) -> Any:
    return drafts.discard_draft(actor=w.instructor, draft=w.draft)


def revise(w: World) -> Any:
    """Of the older revision, of which there is no draft yet."""
    return drafts.revise(actor=w.instructor, revision=w.revision)


def publish_draft(w: World) -> Any:
    given = publishing.SectionTerms(w.section, w.terms)
    return publishing.publish_draft(
        actor=w.instructor, draft=w.draft, to=[given], guard_reason="on purpose"
    )


def try_draft(w: World) -> Any:
    draft = w.draft
    return try_outs.try_exercise(
        actor=w.instructor,
        course=w.course,
        key=w.revision.key,
        title=draft.title,
        document=draft.document,
    )


def put_exercise_away(w: World) -> Any:
    return exercises.set_exercise_archived(
        actor=w.instructor, revision=w.revision, archived=True
    )


def copy_course(w: World) -> Any:
    return new_term.copy_course(
        actor=w.instructor, course=w.course, new=new_term.NewTerm("Next", "Spring", 26)
    )


_MEANWHILE: tuple[Action, ...] = (move_students, give_extension, switch_section)
_MARKING: tuple[Action, ...] = (
    adjust_points, take_back_adjustment, accept_report, return_report, assess_again, move_students,
)  # fmt: skip

ACTIONS: dict[str, tuple[Action, ...]] = {
    "begun": (
        open_work, fill_reagents, save_draft_of_plan, give_variant_to_student,
        give_variant_to_section, add_variant, drop_variant, give_newer_revision, change_terms,
        give_extension, switch_section, bring_newcomer, leave_course, come_back,
    ),
    "planned": (
        submit_plan, save_draft_of_plan, add_same_step, fill_reagents, self_check,
        give_variant_to_student,
        give_newer_revision, move_students, switch_section,
    ),
    "handed_in": (
        submit_plan, start_bench, ask_to_share, admit_work, take_back_admission, clear_hold,
        supply_readings, assess_again, fill_reagents, give_variant_to_student, *_MEANWHILE,
    ),
    "at_the_bench": (
        record_reading, correct_reading, withdraw_reading, record_step, withdraw_step,
        replay_queue, type_sheet, supply_readings, answer_share, leave_bench, lock_readings,
        tick_bench, set_station_pin, submit_plan, give_variant_to_student,
        *_MEANWHILE,
    ),
    "reported": (
        *_MARKING, comment_report, choose_report, lock_readings, submit_report,
        assess_left_over, give_extension, switch_section,
    ),
    "accepted": (
        *_MARKING, release_section, draw_second_readings, assess_left_over, open_results,
        lock_readings,
    ),
    "shared": (
        return_report, return_partners_report, release_section, accept_report, lock_readings,
        submit_report, assess_again,
    ),
    "moved": (
        take_back_move, release_section, return_report, accept_report, assess_again,
        assess_left_over,
    ),
    "released": (
        *_MARKING, release_section, answer_query, query_mark, open_results, give_extension,
        comment_report,
    ),
    "writing": (
        publish_draft, save_draft, restore_draft, discard_draft, revise, try_draft,
        give_newer_revision,
        give_variant_to_section, put_exercise_away, copy_course, save_draft_of_plan,
    ),
}  # fmt: skip
