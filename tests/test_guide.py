"""What the contributor's guide and the docstrings of the folders name is there."""

from __future__ import annotations

import re

from workups.grading import rules
from workups.grading.finding_titles import OF_READINGS
from workups.grading.rule import RULES
from workups.grading.slips import SLIPS

# Words with a hyphen in the lists of rules that are no names.
WORDS = {"co-solvent"}


def test_every_rule_has_its_place_in_the_lists_of_rules() -> None:
    words = set(re.findall(r"(?<![\w/.-])[a-z0-9-]+(?![\w/])", rules.__doc__ or ""))
    assert set(RULES) <= words
    named = {w for w in words if "-" in w and not w[0].isdigit()}
    assert named <= {*RULES, *OF_READINGS, *SLIPS, *WORDS}
