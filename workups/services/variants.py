"""Variants of a published exercise: made, given to a section or a student, and frozen."""

import hashlib
import json
from dataclasses import dataclass
from functools import lru_cache

from django.db import transaction
from django.utils import timezone

from workups.documents import dump_exercise
from workups.documents.variants import (
    Variant,
    VariantDoesNotFit,
    Varied,
    for_student,
    variant_from_data,
    variant_to_data,
    varied,
)
from workups.models import (
    Assignment,
    ExerciseRevision,
    ExerciseVariant,
    OwnExercise,
    Person,
    Work,
)
from workups.models.exercises import read_exercise
from workups.services.assessments import settle
from workups.services.audit import record_audit
from workups.services.hand_ins import new_to_assess
from workups.services.holding import hold, hold_all
from workups.services.refusals import Refused
from workups.services.reports import reopen_accepted


class VariantIsInUse(Refused):
    """Somebody works on the variant: it cannot be dropped."""


class VariantCannotBeGiven(Refused):
    """The variant was dropped meanwhile, or belongs to another revision of the exercise."""


class BenchHasBegun(Refused):
    """The student has a bench record: the exercise under it cannot change any more."""


@dataclass(frozen=True)
class Given:
    """How many students have the form now, and how many keep what they have begun."""

    changed: int
    kept: int


@transaction.atomic
def add_variant(
    *, actor: Person, revision: ExerciseRevision, title: str, variant: Variant
) -> ExerciseVariant:
    """Keep a variant; raises VariantDoesNotFit where it cannot be made of this exercise."""
    row = ExerciseVariant(
        revision=revision, title=title, data=variant_to_data(variant), made_by=actor
    )
    what_it_gives(row)
    hold(revision)
    row.full_clean()
    row.save()
    record_audit(
        actor=actor,
        action="add-variant",
        subject=row,
        course=revision.course,
        details={"exercise": str(revision), "variant": row.data},
    )
    return row


def carry_variants(
    *, actor: Person, before: ExerciseRevision, revision: ExerciseRevision
) -> list[ExerciseVariant]:
    """The variants of an earlier revision made anew of this one, as far as they still fit."""
    carried = []
    for variant in before.variants.filter(dropped_at__isnull=True):
        try:
            carried.append(
                add_variant(
                    actor=actor, revision=revision, title=variant.title, variant=variant.to_core()
                )
            )
        except VariantDoesNotFit:
            continue
    return carried


def counterpart(
    variant: ExerciseVariant | None, revision: ExerciseRevision
) -> ExerciseVariant | None:
    """The variant of the same name that another revision has; None where it has none."""
    if variant is None:
        return None
    return revision.variants.filter(title=variant.title, dropped_at__isnull=True).first()


@transaction.atomic
def drop_variant(*, actor: Person, variant: ExerciseVariant) -> None:
    """Take a variant that nobody has out of the lists; it stays in the database."""
    hold(variant)
    if variant.dropped_at is not None:
        return
    if variant.works.exists() or variant.assignments.exists():
        raise VariantIsInUse
    variant.dropped_at = timezone.now()
    variant.save(update_fields=["dropped_at"])
    record_audit(
        actor=actor, action="drop-variant", subject=variant, course=variant.revision.course
    )


def what_it_gives(variant: ExerciseVariant) -> Varied:
    """The exercise as changed, before amounts are drawn for anybody, with notes for staff."""
    return _varied(variant.revision.document, json.dumps(variant.data, sort_keys=True))


@lru_cache(maxsize=32)
def _varied(document: str, data: str) -> Varied:
    return varied(read_exercise(document), variant_from_data(json.loads(data)).for_everybody())


def text_for(variant: ExerciseVariant, student: Person) -> str:
    """The exercise file as a student gets it; the same for the same student at any time."""
    exercise = for_student(
        what_it_gives(variant).exercise, variant.to_core(), seed_of(student, variant.revision)
    )
    return dump_exercise(exercise)


def seed_of(student: Person, revision: ExerciseRevision) -> int:
    """What a student's own amounts are drawn from: the student and the exercise, nothing else."""
    digest = hashlib.sha256(student.public_id.bytes + revision.key.encode()).digest()
    return int.from_bytes(digest[:4], "big")


def set_variant(work: Work, variant: ExerciseVariant | None) -> None:
    """Freeze what a student gets on the work; the caller saves the work."""
    work.variant = variant
    work.own_exercise = None if variant is None else _frozen(text_for(variant, work.student))


def _frozen(document: str) -> OwnExercise:
    digest = OwnExercise.digest_of(document)
    row, _ = OwnExercise.objects.get_or_create(digest=digest, defaults={"document": document})
    return row


@transaction.atomic
def give_variant_to_section(
    *, actor: Person, assignment: Assignment, variant: ExerciseVariant | None
) -> Given:
    """What the section's students begin with; who has begun, or has a form of their own, keeps it.

    ``variant`` None: the exercise as it was published.
    """
    hold(assignment.section)
    _hold_to_give(variant)
    works = hold_all(assignment.works.select_related("enrolment__person"))
    hold(assignment)
    _require_fitting(variant, assignment.revision_id)
    before, assignment.variant = assignment.variant, variant
    assignment.full_clean()
    assignment.save(update_fields=["variant"])
    open_works = [w for w in works if w.variant_id == _key(before) and not has_begun(w)]
    for work in open_works:
        set_variant(work, variant)
        work.save(update_fields=["variant", "own_exercise"])
    if before == variant:
        return Given(len(open_works), len(works) - len(open_works))
    record_audit(
        actor=actor,
        action="give-variant",
        subject=assignment,
        course=assignment.revision.course,
        details={"variant": str(variant or ""), "before": str(before or "")},
    )
    return Given(len(open_works), len(works) - len(open_works))


def _hold_to_give(variant: ExerciseVariant | None) -> None:
    """It is not dropped while it is being given."""
    if variant is not None:
        hold(variant)
        if variant.dropped_at is not None:
            raise VariantCannotBeGiven


def _require_fitting(variant: ExerciseVariant | None, revision_id: int) -> None:
    """Nobody is given what belongs to another revision than they are on by now."""
    if variant is not None and variant.revision_id != revision_id:
        raise VariantCannotBeGiven


def _key(variant: ExerciseVariant | None) -> int | None:
    return None if variant is None else variant.pk


def has_begun(work: Work) -> bool:
    """Whether anything of the student's own hangs on the exercise already."""
    return (
        work.bench_record_id is not None
        or work.explanation != ""
        or work.plan_revisions.exists()
        or work.reagent_entries.exists()
    )


def give_variant_to_student(
    *, actor: Person, work: Work, variant: ExerciseVariant | None, reason: str
) -> Work:
    """One student's form of the exercise. A plan that was begun stays; at the bench it is too late.

    A plan handed in is assessed anew: it is judged, and held, by the exercise as it is now. The
    reason is kept in the audit log, for staff with access to it alone.
    """
    _give_to_student(actor, work, variant, reason)
    settle(actor=actor, work=work, reason="another form of the exercise")
    return work


@transaction.atomic
def _give_to_student(
    actor: Person, work: Work, variant: ExerciseVariant | None, reason: str
) -> None:
    _hold_to_give(variant)
    hold(work)
    _require_fitting(variant, work.revision_id)
    if work.bench_record_id is not None:
        raise BenchHasBegun
    before = work.variant
    set_variant(work, variant)
    work.full_clean()
    work.save(update_fields=["variant", "own_exercise"])
    new_to_assess(work)
    reopen_accepted(actor=actor, work=work)
    record_audit(
        actor=actor,
        action="give-variant",
        subject=work,
        course=work.revision.course,
        details={"variant": str(variant or ""), "before": str(before or ""), "reason": reason},
    )
