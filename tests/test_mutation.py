"""What ``tests.mutation`` rests on: every module has its tests, and a fault is a program."""

import ast

import pytest

from .mutation import ROOT, constants, fitting, scope


@pytest.mark.parametrize("path", scope())
def test_every_module_that_is_mutated_has_fitting_tests(path: str) -> None:
    assert (ROOT / path).is_file()
    assert [f for f in fitting(path) if not (ROOT / f).exists()] == []


def test_a_doubled_constant_changes_one_number_and_can_be_read() -> None:
    faults = list(constants("workups/grading/points/charges.py"))
    assert len(faults) >= 10
    before = (ROOT / "workups/grading/points/charges.py").read_text(encoding="utf-8").splitlines()
    for fault in faults:
        ast.parse(fault.text)
        after = fault.text.splitlines()
        assert [i for i, (a, b) in enumerate(zip(before, after, strict=True), 1) if a != b] == [
            fault.line]
