"""The rules of grading as help pages: each rule's own prose and source."""

import inspect
from dataclasses import dataclass

from workups.exercise.exercise import CHECK_TITLES
from workups.grading import rules as _rules  # noqa: F401 (registers all rules)
from workups.grading.rule import RULES, Rule


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
