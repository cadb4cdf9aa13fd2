"""An exercise as the grading module sees it: chemistry, goals, rubric, choices and texts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from workups.chemistry.plan import Plan
from workups.chemistry.setup import Setup

from .settings import SETTINGS

CHECKS = ("order", "extraction", "drying", "yield", "layers_safety", "reagent_table")
CHECK_TITLES: Mapping[str, str] = {
    "order": "Order of steps",
    "extraction": "Extraction",
    "drying": "Drying",
    "yield": "Yield",
    "layers_safety": "Layers and safety",
    "reagent_table": "Reagent table",
}

FEEDBACK_DETAILS = ("all but the answer", "which checks", "nothing")


@dataclass(frozen=True)
class Rubric:
    """Points for each check (0: shown, not counted) and how drying splits into plan and bench."""

    points: Mapping[str, float] = field(
        default_factory=lambda: {
            "order": 25.0,
            "extraction": 20.0,
            "drying": 20.0,
            "yield": 10.0,
            "layers_safety": 15.0,
            "reagent_table": 10.0,
        }
    )
    drying_plan_share: float = 0.6


@dataclass(frozen=True)
class FeedbackPolicy:
    """What self-check says before the deadline; ``attempts`` 0 means as many as wanted."""

    detail: str = "all but the answer"
    attempts: int = 0


@dataclass(frozen=True)
class Choice:
    """A point on which instructors differ, set for this exercise, with its reason.

    ``key`` is one of ``settings.SETTINGS``, ``value`` one that it may take.
    """

    key: str
    value: str
    reason: str = ""


@dataclass(frozen=True)
class SafetySheet:
    """Where the safety data sheet of something in the exercise is to be read."""

    name: str
    url: str


@dataclass(frozen=True)
class Texts:
    """Prose of an exercise, in plain paragraphs.

    ``emergency`` and ``safety_sheets`` stand beside what the course says for all its exercises.
    """

    summary: str = ""
    background: str = ""
    task: str = ""
    cautions: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    emergency: str = ""
    safety_sheets: tuple[SafetySheet, ...] = ()


@dataclass(frozen=True)
class Exercise:
    """One workup exercise, complete.

    ``model_plan`` is the instructor's own route, ``alternatives`` other routes known to be right;
    neither is a key: plans are judged by what they do. ``fixed_portions`` replaces the recovery
    goal by a fixed number of extractions where the instructor wants one. ``priors`` override the
    diagnosis priors by hypothesis key.
    """

    key: str
    title: str
    setup: Setup
    model_plan: Plan
    alternatives: tuple[Plan, ...] = ()
    rubric: Rubric = Rubric()
    policy: FeedbackPolicy = FeedbackPolicy()
    choices: tuple[Choice, ...] = ()
    priors: Mapping[str, float] = field(default_factory=dict)
    texts: Texts = Texts()
    fixed_portions: int | None = None
    sources: tuple[str, ...] = ()

    def choice(self, key: str) -> str:
        """The value an instructor chose for a setting, else its default.

        Raises KeyError for a setting that does not exist.
        """
        default = SETTINGS[key].default
        return next((c.value for c in self.choices if c.key == key), default)

    def reason(self, key: str) -> str:
        """Why an instructor chose as they did; empty where nothing is said."""
        return next((c.reason for c in self.choices if c.key == key), "")
