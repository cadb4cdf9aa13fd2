"""The rows. One file per topic; every model is exported here.

Rows with a page have a random ``public_id``; no address carries a database key. What can be a
constraint of the database is one. A person has one role in each course (``Enrolment``), or none;
people leave a course by ``left_at``, and their work stays. What somebody was counts as what they
are (``Enrolment.was_staff``).

The audit log (``AuditEntry``) and every other ``AppendOnlyModel`` only grow: the model refuses, and
a trigger of the database refuses what goes past the model (``workups/append_only_triggers.py``). A
migration that adds such a table creates its triggers; one that rebuilds the table creates them
again, because SQLite drops a table's triggers with it; one that must change rows drops them first.
``tests/test_append_only_triggers.py`` fails for a table without. ``manage.py flush`` is refused:
make a new database instead. An entry of the log names its objects by public id and text, so that it
outlives them.

A migration is named for what it does.
"""

from workups.models.append_only import AppendOnlyModel, AuditEntry, RowIsAppendOnly
from workups.models.authoring import DraftState, ExerciseDraft, ModelRun, Remark, TryOut
from workups.models.bench import (
    LOOK_WORDS,
    WEIGHING_KINDS,
    BenchRecord,
    BenchStep,
    BenchTick,
    EntrySource,
    Reading,
    ReadingKind,
    ShareRequest,
    SheetTyping,
)
from workups.models.courses import Course, Enrolment, Role, SafetyLink, Section
from workups.models.exercises import (
    Assignment,
    ExerciseRevision,
    ExerciseVariant,
    Extension,
    OwnExercise,
)
from workups.models.moves import RevisionMove
from workups.models.people import (
    Person,
    RecoveryCode,
    SecondStep,
    StationFailure,
    normalise_sign_in,
)
from workups.models.planning import (
    HandIn,
    PlanRevision,
    ReagentTableEntry,
    SelfCheck,
    Work,
    make_bench_code,
)
from workups.models.public import PublicIdModel
from workups.models.review import (
    AssessmentSnapshot,
    ComparedMark,
    ComparedReport,
    HoldClearance,
    MarkQuery,
    PointAdjustment,
    Review,
    ReviewComment,
)
from workups.models.sessions import Session

__all__ = [
    "LOOK_WORDS",
    "WEIGHING_KINDS",
    "AppendOnlyModel",
    "AssessmentSnapshot",
    "Assignment",
    "AuditEntry",
    "BenchRecord",
    "BenchStep",
    "BenchTick",
    "ComparedMark",
    "ComparedReport",
    "Course",
    "DraftState",
    "Enrolment",
    "EntrySource",
    "ExerciseDraft",
    "ExerciseRevision",
    "ExerciseVariant",
    "Extension",
    "HandIn",
    "HoldClearance",
    "MarkQuery",
    "ModelRun",
    "OwnExercise",
    "Person",
    "PlanRevision",
    "PointAdjustment",
    "PublicIdModel",
    "Reading",
    "ReadingKind",
    "ReagentTableEntry",
    "RecoveryCode",
    "Remark",
    "Review",
    "ReviewComment",
    "RevisionMove",
    "Role",
    "RowIsAppendOnly",
    "SafetyLink",
    "SecondStep",
    "Section",
    "SelfCheck",
    "Session",
    "ShareRequest",
    "SheetTyping",
    "StationFailure",
    "TryOut",
    "Work",
    "make_bench_code",
    "normalise_sign_in",
]
