"""Every rule has plans that break it and keep it, and says where it comes from."""

from __future__ import annotations

import inspect
import re
from collections import Counter

import pytest

from workups.exercise.exercise import CHECKS
from workups.grading import rules as _rules  # noqa: F401 (registers all rules)
from workups.grading.rule import RULES

from . import (
    test_bookkeeping,
    test_brine,
    test_choices,
    test_cosolvent,
    test_drying,
    test_drying_agent,
    test_filtering,
    test_gas,
    test_heat,
    test_layers,
    test_parting_ways,
    test_purity,
    test_quench,
    test_sequence,
    test_setting_free,
    test_washing,
    test_waste,
)
from .tables import found

MODULES = (
    test_bookkeeping, test_brine, test_choices, test_cosolvent, test_drying, test_drying_agent,
    test_filtering, test_gas, test_heat, test_layers, test_parting_ways, test_purity, test_quench,
    test_sequence,
    test_setting_free, test_washing, test_waste,
)
# What else could be done is no change of the plan, or changes nothing that is computed (see
# "Mends and costs" in workups/grading/rules/__init__.py).
WITHOUT_MEND = {"layers-may-invert", "poured-away-early"}


def test_every_rule_has_a_table_of_plans() -> None:
    counted = Counter(code for module in MODULES for code in module.TABLES)
    assert set(counted) == set(RULES)
    assert [code for code, times in counted.items() if times > 1] == []


@pytest.mark.parametrize("module", MODULES)
def test_every_rule_mends_at_least_one_of_its_plans(module) -> None:
    for code, table in module.TABLES.items():
        breaches = (b for lab in table.breaks.values() for b in found(code, lab(), draws=2))
        assert any(b.breach.mended for b in breaches) == (code not in WITHOUT_MEND), code


def test_every_table_has_plans_that_break_and_that_keep_its_rule() -> None:
    for module in MODULES:
        for code, table in module.TABLES.items():
            assert table.breaks, code
            assert {**table.keeps, **table.looks_wrong}, code


@pytest.mark.parametrize("code", sorted(RULES))
def test_a_rule_can_be_read_by_a_student(code) -> None:
    rule = RULES[code]
    text = inspect.cleandoc(rule.text)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", code)
    assert rule.check in CHECKS
    assert rule.source
    assert rule.title[0].isupper()
    assert len(text.split()) >= 15, "too short to explain anything"
    assert text.endswith(".")
    assert not re.search(r"``|\(N,\)|:param", text), "written for programmers"
