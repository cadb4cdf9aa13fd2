"""How everything is computed, in the words that stand beside the code itself."""

import inspect
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from types import ModuleType

from workups.exercise.exercise import CHECK_TITLES
from workups.grading import rules as _rules  # noqa: F401 (registers all rules)
from workups.grading.rule import RULES, Rule

# Title, module, and the functions of it whose own words add an equation.
_CHAPTERS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("Acids, bases and pH", "workups.chemistry.speciation", ()),
    ("A shake, and the gas it sets free", "workups.chemistry.contact", ()),
    ("Parting the layers", "workups.chemistry.parting", ()),
    ("Recovery by extraction", "workups.chemistry.recovery", ("fraction_left", "recovery")),
    (
        "Water in the solvent",
        "workups.chemistry.water",
        ("osmotic_coefficient", "activity_of_water", "water_held_mmol"),
    ),
    ("Drying agents", "workups.chemistry.drying", ("salt_for_loose", "liquid_look")),
    ("Pouring and rinsing", "workups.chemistry.pouring", ()),
    (
        "Taking the solvent off",
        "workups.chemistry.stripping",
        ("relative_volatility_of_water", "evaporate_droplets"),
    ),
    (
        "Yield and its uncertainty",
        "workups.chemistry.yields",
        ("weighing_u_g", "mass_by_difference", "theoretical_yield", "percent_yield"),
    ),
    ("Bands", "workups.chemistry.draws", ()),
    ("What is shown before the readings are locked", "workups.exercise.public", ()),
    ("From findings to points", "workups.grading.scoring", ("score_of",)),
    ("Points for drying at the bench", "workups.grading.recorded.benchdrying", ()),
    ("Points for the yield", "workups.grading.recorded.yieldcheck", ("place", "yield_score")),
    ("A yield that was explained", "workups.grading.recorded.explained", ()),
    ("Entries that cannot be", "workups.grading.recorded.clerical", ()),
)


@dataclass(frozen=True)
class Passage:
    """A paragraph, or an equation that keeps its lines."""

    text: str
    is_equation: bool = False


@dataclass(frozen=True)
class Chapter:
    title: str
    passages: tuple[Passage, ...]


def method_chapters() -> list[Chapter]:
    return [
        Chapter(title, tuple(_passages(import_module(name), functions)))
        for title, name, functions in _CHAPTERS
    ]


def _passages(module: ModuleType, functions: tuple[str, ...]) -> Iterator[Passage]:
    yield from passages_of(inspect.getdoc(module) or "")
    for name in functions:
        yield from passages_of(inspect.getdoc(getattr(module, name)) or "")


def passages_of(text: str) -> Iterator[Passage]:
    """The prose of a docstring, without its lists of parameters and its examples."""
    for block in text.split("\n\n"):
        lines = block.split("\n")
        if len(lines) > 1 and set(lines[1]) == {"-"}:
            return
        if not block.strip() or lines[0].startswith(">>>"):
            continue
        if all(line.startswith("    ") for line in lines):
            yield Passage(inspect.cleandoc(block), is_equation=True)
        else:
            yield Passage(" ".join(block.split()).replace("``", ""))


# The rules of grading as help pages: each rule's own prose and source.


@dataclass(frozen=True)
class RulePage:
    """A rule with its prose in paragraphs."""

    rule: Rule

    @property
    def paragraphs(self) -> list[str]:
        text = inspect.cleandoc(self.rule.text)
        return [" ".join(part.split()) for part in text.split("\n\n") if part.strip()]

    @property
    def check_title(self) -> str:
        return CHECK_TITLES[self.rule.check]


@dataclass(frozen=True)
class RuleGroup:
    title: str
    pages: tuple[RulePage, ...]


def find_rule(code: str) -> RulePage | None:
    found = RULES.get(code)
    return RulePage(found) if found else None


def has_rule(code: str) -> bool:
    return code in RULES


def rule_groups() -> list[RuleGroup]:
    """Every rule under the check it belongs to."""
    groups = [
        RuleGroup(title, tuple(RulePage(r) for r in RULES.values() if r.check == check))
        for check, title in CHECK_TITLES.items()
    ]
    return [group for group in groups if group.pages]
