"""What goes onto the sheets for stockroom and teaching staff; never onto a student's."""

from dataclasses import dataclass

from workups.exercise.exercise import Exercise
from workups.grading.assessment import Assessment
from workups.sheets.content import SheetHead
from workups.sheets.prep_lines import PrepSheet


@dataclass(frozen=True)
class PrepPart:
    """One prep sheet with its own heading: a section, a variant of it, or the total.

    ``emergency`` is what its exercises and the course say.
    """

    heading: str
    sheet: PrepSheet
    note: str = ""
    cautions: tuple[str, ...] = ()
    emergency: str = ""


@dataclass(frozen=True)
class PrepSheets:
    """Prep sheets in one file, each on a page of its own."""

    head: SheetHead
    title: str
    parts: tuple[PrepPart, ...]


@dataclass(frozen=True)
class OwnAmounts:
    """The exercise as one student has it, where amounts differ from one to the next."""

    code: str
    exercise: Exercise


@dataclass(frozen=True)
class TaSheetPart:
    """What staff should see at the bench of those who do one form of the exercise.

    ``codes`` are bench codes; none means everybody. With ``own_amounts`` the exercise is the one
    before amounts were drawn.
    """

    exercise: Exercise
    assessment: Assessment
    codes: tuple[str, ...] = ()
    own_amounts: tuple[OwnAmounts, ...] = ()
    emergency: str = ""


@dataclass(frozen=True)
class TaSheet:
    """For staff only: it says what to expect."""

    head: SheetHead
    title: str
    parts: tuple[TaSheetPart, ...]
