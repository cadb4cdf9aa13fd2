"""What the page of one report shows to who marks it, forms included."""

from dataclasses import dataclass
from typing import Any

from workups.grading.visibility import Moment
from workups.models import AssessmentSnapshot, MarkQuery, Work
from workups.selectors.anonymity import hides_names, name_for_marking
from workups.selectors.bench_lines import bench_lines
from workups.selectors.marks import marked_snapshot, marks_of, newest_snapshot
from workups.selectors.reagents import given_answers
from workups.selectors.report_page import report_page
from workups.selectors.reports import partner_has_result
from workups.selectors.staff_report import (
    StaffCheck,
    StaffFinding,
    comments_of,
    find_review,
    remarks_of,
    staff_checks,
    untouched_checks,
)
from workups.selectors.standards import find_compared
from workups.services.review import in_tenths
from workups.sheets.bands import yield_figure
from workups.sheets.svg import Figure
from workups.web.bench.tables import reagent_rows, target_tables
from workups.web.review.forms import AnswerForm, CommentForm, PointsForm, ReturnForm
from workups.web.schemes import planned_beside_done, scheme_of_plan


@dataclass(frozen=True)
class FindingRow:
    found: StaffFinding
    form: PointsForm


@dataclass(frozen=True)
class CheckRow:
    """A check with the form for its points, and its findings with theirs."""

    check: StaffCheck
    form: PointsForm
    findings: list[FindingRow]


@dataclass(frozen=True)
class SentForms:
    """Forms that came back wrong; they stand in place of the empty ones."""

    points: PointsForm | None = None
    comment: CommentForm | None = None
    returning: ReturnForm | None = None
    answer: tuple[MarkQuery, AnswerForm] | None = None


def report_context(work: Work, sent: SentForms) -> dict[str, Any]:
    snapshot = marked_snapshot(work)
    checks = staff_checks(work, snapshot) if snapshot else []
    review = find_review(work)
    queries = query_rows(work, sent.answer)
    return {
        "name": name_for_marking(work, review),
        "hides_names": hides_names(work, review),
        "review": review,
        "compared": find_compared(work),
        "seen": in_tenths(sum(check.mark.points for check in checks)),
        "rows": [check_row(check, sent.points) for check in checks],
        "comments": comments_of(work),
        "comment_form": sent.comment or CommentForm(remarks=remarks_of(work)),
        "return_form": sent.returning or return_form(work),
        "is_settled": partner_has_result(work),
        "queries": queries,
        "to_answer": next((query for query, _ in queries if not query.answer), None),
        **evidence_of(work, snapshot),
    }


def compared_context(work: Work, name: str) -> dict[str, Any]:
    """The report as computed, for somebody who is to mark it unswayed: without names, points
    by hand, comments or questions."""
    snapshot = newest_snapshot(work)
    checks = untouched_checks(snapshot) if snapshot else []
    return {
        "name": name,
        "hides_names": True,
        "is_open": False,
        "rows": [check_row(check, None) for check in checks],
        **evidence_of(work, snapshot),
    }


def evidence_of(work: Work, snapshot: AssessmentSnapshot | None) -> dict[str, Any]:
    """What a mark rests on, whoever gives it."""
    record, exercise = work.bench_record, work.to_core()
    return {
        "work": work,
        "snapshot": snapshot,
        "page": report_page(work, Moment.RELEASED),
        "answers": given_answers(work) if snapshot else [],
        "figures": yield_figures(snapshot) if snapshot else [],
        "scheme": scheme_of_plan(snapshot) if snapshot else None,
        "beside": planned_beside_done(snapshot) if snapshot else None,
        "lines": bench_lines(record, exercise) if record else [],
        "targets": target_tables(record, exercise) if record else [],
        "reagents": reagent_rows(record, exercise) if record else [],
    }


def check_row(check: StaffCheck, sent: PointsForm | None) -> CheckRow:
    return CheckRow(
        check,
        points_form(check, None, sent),
        [
            FindingRow(found, points_form(check, found, sent))
            for found in check.findings
        ],
    )


def points_form(
    check: StaffCheck, found: StaffFinding | None, sent: PointsForm | None
) -> PointsForm:
    code, step = (found.finding.code, found.finding.step) if found else ("", "")
    if sent is not None and sent.is_for(check.name, code, step):
        return sent
    suggested = found.without if found else None
    return PointsForm(
        place=(check.name, code, step),
        out_of=check.mark.check.out_of,
        initial={
            "check_name": check.name,
            "finding_code": code,
            "step_id": step,
            "seen": in_tenths(check.mark.points),
            "points": suggested if suggested is not None else check.mark.points,
        },
    )


def return_form(work: Work, data: Any = None) -> ReturnForm:
    review, marks = find_review(work), marks_of(work)
    stands = {
        "state": review.state if review else "",
        "points": str(in_tenths(marks.points)) if marks else "",
    }
    return ReturnForm(data, initial=stands, auto_id="return-%s")


def answer_form(query: MarkQuery, data: Any = None) -> AnswerForm:
    return AnswerForm(data, initial={"answer": query.answer}, auto_id=f"{query.public_id}-%s")


def query_rows(
    work: Work, sent: tuple[MarkQuery, AnswerForm] | None
) -> list[tuple[MarkQuery, AnswerForm]]:
    rows = []
    queries = MarkQuery.objects.filter(review__work=work).select_related("asked_by", "answered_by")
    for query in queries:
        form = answer_form(query)
        if sent is not None and sent[0].pk == query.pk:
            form = sent[1]
        rows.append((query, form))
    return rows


def yield_figures(snapshot: AssessmentSnapshot) -> list[Figure]:
    """Both bands with the mass found, for each target."""
    assessment = snapshot.to_core()
    found = {y.target: y for y in assessment.readings}
    return [yield_figure(e, found.get(e.target)) for e in assessment.expected]
