"""Every finding has a title of words, whether a rule makes it or a reading."""

import re
from pathlib import Path

import pytest

from workups.grading.assess import CANNOT_BE_DONE
from workups.grading.finding_titles import OF_READINGS, finding_title
from workups.grading.points.littleweighed import LITTLE_WEIGHED
from workups.grading.rule import RULES

RECORDED = Path(__file__).parents[2] / "workups" / "grading" / "recorded"


def test_every_finding_from_readings_has_a_title():
    """The codes as they stand, a line each, where the findings are made."""
    code = re.compile(r'^ +"([a-z]+(?:-[a-z]+)+)",$', re.MULTILINE)
    made = {
        found
        for name in ("record", "yieldcheck", "benchdrying")
        for found in code.findall((RECORDED / f"{name}.py").read_text(encoding="utf-8"))
    } | {CANNOT_BE_DONE, LITTLE_WEIGHED}
    assert made == set(OF_READINGS)


@pytest.mark.parametrize(
    ("code", "title"),
    [
        ("not-constant", "Last two readings do not agree"),
        ("cake-not-rinsed", RULES["cake-not-rinsed"].title),
        ("of-a-former-engine", "Of a former engine"),
    ],
)
def test_titles_come_from_the_rule_else_from_the_list(code, title):
    assert finding_title(code) == title
