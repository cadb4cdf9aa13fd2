import copy
import re
from collections.abc import Callable, Collection
from itertools import count

from django.db import transaction
from django.utils import timezone

from workups.documents import DocumentError, load_exercise
from workups.documents.toml_text import parse
from workups.exercise.exercise import Exercise
from workups.models import Course, DraftState, ExerciseDraft, ExerciseRevision, Person
from workups.services.audit import record_audit
from workups.services.holding import hold
from workups.services.refusals import Refused

# A file's own key and title stand at its top, before any table.
_KEY_LINE = re.compile(r'^key = "([^"\n]*)"$', re.MULTILINE)
_TITLE_LINE = re.compile(r'^title = "([^"\n]*)"$', re.MULTILINE)
_LONGEST_STEM = 60
KEPT_STATES = 300
_STATES_GO_EVERY = 50
_CHANGED = ("document", "title", "version", "changed_at", "changed_by", "closed_at")
_NOT_CHANGED = {f.name for f in ExerciseDraft._meta.fields} - set(_CHANGED) | {"changed_by"}
UNTITLED = "an exercise without a title"


class StaleDraft(Refused):
    """Somebody else has saved the draft since this text was begun."""

    def __init__(self, current: ExerciseDraft) -> None:
        super().__init__(f"version {current.version} was saved by {current.changed_by}")
        self.current = current


def title_in(document: str) -> str:
    """The title that an exercise file gives itself, as far as it can be read."""
    try:
        title = parse(document).get("title")
    except DocumentError:
        title = None
    shown = "".join(filter(str.isprintable, title)).strip() if isinstance(title, str) else ""
    return shown[:200] or UNTITLED


def read_draft(draft: ExerciseDraft) -> tuple[Exercise | None, DocumentError | None]:
    """The exercise of a draft, or what is wrong with it."""
    try:
        return load_exercise(draft.document), None
    except DocumentError as error:
        return None, error


@transaction.atomic
def start_draft(
    *, actor: Person, course: Course, document: str, base: ExerciseRevision | None = None
) -> ExerciseDraft:
    """Keep a text as a draft, whether or not it is right yet.

    The same text begun again by the same person, and not touched since, is the same draft.
    """
    hold(course)
    known = _begun(actor, course, document, base)
    if known is not None:
        return known
    draft = ExerciseDraft(
        course=course,
        title=title_in(document),
        document=document,
        base=base,
        made_by=actor,
        changed_by=actor,
    )
    draft.full_clean()
    draft.save()
    return draft


def _begun(
    actor: Person, course: Course, document: str, base: ExerciseRevision | None = None
) -> ExerciseDraft | None:
    """What the person began with this text, as long as nobody changed it."""
    return ExerciseDraft.objects.filter(
        course=course, base=base, document=document, made_by=actor, version=1, closed_at=None
    ).first()


def save_draft(
    *, actor: Person, draft: ExerciseDraft, document: str, base_version: int
) -> ExerciseDraft:
    """Put a new text in place of the one that `base_version` was."""

    def replace(current: ExerciseDraft) -> str:
        if current.document != document and current.version != base_version:
            raise StaleDraft(current)
        return document

    known = draft if draft.version == base_version else _newest(draft)
    return change_draft(actor=actor, draft=known, change=replace)


@transaction.atomic
def change_draft(
    *, actor: Person, draft: ExerciseDraft, change: Callable[[ExerciseDraft], str]
) -> ExerciseDraft:
    """Put the text that `change` makes of the newest one in its place; a closed draft opens again.

    What `change` raises leaves the draft as it is. A change that changes nothing is no new version.
    Where somebody else saved since `draft` was read, `change` is asked again, about theirs.
    """
    while True:
        document = change(draft)
        if draft.document == document:
            return draft
        new = copy.copy(draft)
        new.document, new.title, new.version = document, title_in(document), draft.version + 1
        new.changed_at, new.changed_by, new.closed_at = timezone.now(), actor, None
        new.clean_fields(exclude=_NOT_CHANGED)
        new.clean()
        values = {name: getattr(new, name) for name in _CHANGED}
        if ExerciseDraft.objects.filter(pk=draft.pk, version=draft.version).update(**values):
            _keep_state(draft)
            return new
        draft = _newest(draft)


def _newest(draft: ExerciseDraft) -> ExerciseDraft:
    return ExerciseDraft.objects.select_related("course", "changed_by").get(pk=draft.pk)


@transaction.atomic
def revise(*, actor: Person, revision: ExerciseRevision) -> ExerciseDraft:
    """The draft of the next revision: the open one if there is one, whoever began it."""
    hold(revision.course)
    begun = revision.drafts.filter(closed_at__isnull=True).first()
    return begun or start_draft(
        actor=actor, course=revision.course, document=revision.document, base=revision
    )


@transaction.atomic
def duplicate_exercise(*, actor: Person, course: Course, document: str) -> ExerciseDraft:
    """A draft of another exercise that begins as a copy, under a key and title of its own."""
    hold(course)
    taken = set(ExerciseRevision.objects.filter(course=course).values_list("key", flat=True))
    text = copied_text(document, taken)
    known = _begun(actor, course, text)
    if known is not None:
        return known
    draft = start_draft(actor=actor, course=course, document=text)
    record_audit(actor=actor, action="duplicate-exercise", subject=draft, course=course)
    return draft


def copied_text(document: str, taken: Collection[str]) -> str:
    """The text with another key and title; all else stays as it was written."""
    key = _KEY_LINE.search(document)
    if key is not None:
        stem = f"{key[1]}-copy"[:_LONGEST_STEM]
        free = next(k for n in count(1) if (k := stem if n == 1 else f"{stem}-{n}") not in taken)
        document = _KEY_LINE.sub(f'key = "{free}"', document, count=1)
    return _TITLE_LINE.sub(r'title = "\1 (copy)"', document, count=1)


def _keep_state(draft: ExerciseDraft) -> None:
    """Keep a draft as it is before it is changed; the oldest of very many go."""
    DraftState.objects.create(
        draft=draft,
        version=draft.version,
        document=draft.document,
        saved_at=draft.changed_at,
        saved_by=draft.changed_by,
    )
    if draft.version % _STATES_GO_EVERY == 0:
        draft.states.filter(version__lte=draft.version - KEPT_STATES).delete()


def restore_draft(
    *, actor: Person, draft: ExerciseDraft, to_version: int, base_version: int
) -> ExerciseDraft:
    """Go back to an earlier state, as a new one: nothing is erased.

    Raises DraftState.DoesNotExist, and StaleDraft where the draft has moved on.
    """
    earlier = draft.states.get(version=to_version)
    return save_draft(
        actor=actor, draft=draft, document=earlier.document, base_version=base_version
    )


@transaction.atomic
def discard_draft(*, actor: Person, draft: ExerciseDraft) -> None:
    hold(draft)
    if draft.closed_at is None:
        close_draft(draft)
        record_audit(actor=actor, action="discard-draft", subject=draft, course=draft.course)


def close_draft(draft: ExerciseDraft, base: ExerciseRevision | None = None) -> None:
    """Off the list, kept with all its states: a colleague may have it open. `base`: what it was
    published as."""
    draft.closed_at, draft.base = timezone.now(), base or draft.base
    draft.save(update_fields=["closed_at", "base"])
