"""An exercise as the grading module sees it: chemistry, goals, rubric, choices and texts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from workups.chemistry.fields import (
    LINE_LENGTH,
    NOTE_LENGTH,
    declared,
    identifier,
    line,
    one_of,
    prose,
)
from workups.chemistry.plan import Plan
from workups.chemistry.setup import Setup

from .settings import SETTINGS

_CHECKS = {  # what is marked: title, and points where the exercise says no other
    "order": ("Order of steps", 25.0),
    "extraction": ("Extraction", 20.0),
    "drying": ("Drying", 20.0),
    "yield": ("Yield", 10.0),
    "layers_safety": ("Layers and safety", 15.0),
    "reagent_table": ("Reagent table", 10.0),
}
CHECK_TITLES: Mapping[str, str] = {name: title for name, (title, _) in _CHECKS.items()}
CHECKS = tuple(CHECK_TITLES)

FEEDBACK_DETAILS = {
    "all but the answer": "everything but the answer",
    "which checks": "which checks are not met yet",
    "nothing": "nothing before the deadline",
}


@dataclass(frozen=True)
class Rubric:
    """Points for each check and how drying splits into plan and bench."""

    points: Mapping[str, float] = field(
        default_factory=lambda: {name: points for name, (_, points) in _CHECKS.items()},
        metadata=declared(
            "Points", "points of each check; 0: shown, not counted", "", unit="points", low=0,
            high=1000, key_choices=CHECK_TITLES),
    )
    drying_plan_share: float = field(default=0.6, metadata=declared(
        "Share of the drying points for the plan",
        "share of the drying points for the plan, the rest for the bench", low=0, high=1))


@dataclass(frozen=True)
class FeedbackPolicy:
    """What self-check says before the deadline, and when a student sees the own plan drawn."""

    detail: str = field(default="all but the answer", metadata=one_of(
        "Self-check says", "what self-check says", FEEDBACK_DETAILS))
    attempts: int = field(default=0, metadata=declared(
        "Self-checks for each student",
        "how often a student may self-check, 0: as often as wanted", low=0, high=1000))
    scheme: str = field(default="while planning", metadata=one_of(
        "Separation scheme is drawn",
        "when the program draws the scheme of a plan; later where students are to draw their own",
        {"while planning": "while the plan is built", "after hand-in": "once it is handed in"}))

    predict: str = field(default="no", metadata=one_of(
        "Before a shake is drawn", "whether a student says first what a shake will do",
        {"no": "it is drawn at once", "ask first": "the student says first what will happen"}))

    @property
    def asks_first(self) -> bool:
        """Whether a shake is drawn only after the student has said what it will do; no points."""
        return self.predict == "ask first"

    @property
    def shows_shares(self) -> bool:
        """Whether self-check tells and draws where the product is."""
        return self.detail == "all but the answer"

    def draws_scheme(self, *, handed_in: bool) -> bool:
        """Whether a student sees the scheme of the own plan."""
        return handed_in or self.scheme == "while planning"


@dataclass(frozen=True)
class Choice:
    """A point on which instructors differ, set for this exercise, with its reason.

    ``key`` is one of ``settings.SETTINGS``, ``value`` one that it may take.
    """

    key: str = field(metadata=one_of("Setting", "name of the setting", tuple(SETTINGS)))
    value: str = field(metadata=line("Value", "what was chosen", filled=True))
    reason: str = field(default="", metadata=declared(
        "Reason shown to students", "why, shown to students", ""))


@dataclass(frozen=True)
class SafetySheet:
    """Where the safety data sheet of something in the exercise is to be read."""

    name: str = field(metadata=line("Of", "what the sheet is of", hint="", filled=True))
    url: str = field(metadata=line(
        "Address", "where it is", hint="", filled=True, max_length=NOTE_LENGTH,
        pattern=r"https?://[^\s<>\"']+",
        says="a web address that starts with https:// or http://"))


@dataclass(frozen=True)
class Texts:
    """Prose of an exercise, in plain paragraphs."""

    summary: str = field(default="", metadata=prose(
        "Summary", "one or two sentences for lists"))
    background: str = field(default="", metadata=prose(
        "Background", "what the exercise is about"))
    task: str = field(default="", metadata=prose("The task", "what the student has to do"))
    cautions: tuple[str, ...] = field(default=(), metadata=declared(
        "Cautions", "cautions for this exercise",
        "One a line. Say what to do, not only what is dangerous.", max_items=40))
    questions: tuple[str, ...] = field(default=(), metadata=declared(
        "Questions for the report", "questions to answer in the report", "One a line.",
        max_items=40))
    emergency: str = field(default="", metadata=declared(
        "In an emergency with these chemicals",
        "what to do in an emergency with these chemicals, beside what the course says",
        "Shown beside what the course’s settings say for every exercise."))
    safety_sheets: tuple[SafetySheet, ...] = field(default=(), metadata=declared(
        "Safety data sheets", "safety data sheets of what is used", written="safety_sheet",
        max_items=40))


@dataclass(frozen=True)
class Exercise:
    """One workup exercise, complete.

    Model plan and alternatives are no key: plans are judged by what they do.
    """

    key: str = field(metadata=identifier(
        "Short name", "short name of the exercise, used in file names and by plans and readings",
        hint="For files and plans: lower-case letters and digits, words joined by -.",
        pattern=r"[a-z0-9]+(-[a-z0-9]+)*",
        says="a name of lower-case letters and digits, words joined by -"))
    title: str = field(metadata=line("Title", "title that students see", hint="", filled=True))
    setup: Setup = field(metadata=declared("Setup", "the chemistry", flat=True))
    model_plan: Plan = field(metadata=declared(
        "Model plan", "the instructor's own route, one of the right ones"))
    alternatives: tuple[Plan, ...] = field(default=(), metadata=declared(
        "Other routes", "other routes known to be right", written="alternative", max_items=12))
    rubric: Rubric = field(default=Rubric(), metadata=declared("Rubric", "points"))
    policy: FeedbackPolicy = field(default=FeedbackPolicy(), metadata=declared(
        "Feedback", "what self-check says before the deadline"))
    choices: tuple[Choice, ...] = field(default=(), metadata=declared(
        "Choices", "settings on which instructors differ", written="choice"))
    priors: Mapping[str, float] = field(default_factory=dict, metadata=declared(
        "Weights of the diagnosis",
        "how likely an explanation of odd readings is before they are seen, relative to the "
        "others, by its key", low=0, high=1000))
    texts: Texts = field(default=Texts(), metadata=declared("Texts", "what students read"))
    fixed_portions: int | None = field(default=None, metadata=declared(
        "Fixed number of extractions", "a fixed number of extractions instead of a recovery goal",
        low=1, high=12))
    sources: tuple[str, ...] = field(default=(), metadata=declared(
        "Where the facts come from", "where the facts come from",
        "One a line: where amounts, conversion and rates were found, or that they are made up.",
        filled=True, max_length=LINE_LENGTH))

    @cached_property
    def content(self) -> str:
        """All of it as one text: two exercises with the same are the same."""
        return repr(self)

    def choice(self, key: str) -> str:
        """The value an instructor chose for a setting, else its default.

        Raises KeyError for a setting that does not exist.
        """
        default = SETTINGS[key].default
        return next((c.value for c in self.choices if c.key == key), default)

    def reason(self, key: str) -> str:
        """Why an instructor chose as they did; empty where nothing is said."""
        return next((c.reason for c in self.choices if c.key == key), "")
