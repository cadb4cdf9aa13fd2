"""The assess command finds every planted mistake, on files alone."""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

DATA = Path(__file__).parent.parent / "data"
PLANTED = {
    "product-layer-discarded": "product-layer-put-aside",
    "water-wash-skipped": "carbonate-before-water",
    "brine-before-bicarbonate": "brine-not-last",
    "drying-before-last-wash": "wet-again-after-drying",
    "too-little-agent": "too-little-agent",
    "no-filtration": "agent-not-filtered",
    "not-tared": "flask-not-tared",
    "bicarbonate-stoppered-at-once": "carbonate-stoppered",
    "naoh-instead-of-bicarbonate": "strong-base-on-ester",
}
RECORDED = {"gross-below-tare": "gross-below-tare", "yield-128": "above-theoretical"}


def assess_json(*files: Path) -> dict[str, Any]:
    out = StringIO()
    call_command("assess", "too-much-vinegar", *map(str, files), "--json", "--draws", "40",
                 stdout=out)
    return json.loads(out.getvalue())


def found(result: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {f["code"]: f for c in result["checks"] for f in c["findings"]}


@pytest.mark.parametrize(("plan", "code"), PLANTED.items())
def test_a_planted_plan_is_found_with_numbers(plan: str, code: str) -> None:
    finding = found(assess_json(DATA / "plans" / f"{plan}.toml"))[code]
    assert finding["message"]
    assert finding["change"]
    assert finding["why"]
    assert finding["source"]
    assert finding["numbers"] or code in ("flask-not-tared", "brine-not-last")


@pytest.mark.parametrize(("readings", "code"), RECORDED.items())
def test_planted_readings_are_found(readings: str, code: str) -> None:
    result = assess_json(DATA / "plans" / "model.toml", DATA / "readings" / f"{readings}.toml")
    assert code in found(result)
    assert result["readings"]


def test_a_low_partition_coefficient_in_the_file_makes_one_portion_too_few(tmp_path: Path) -> None:
    from tests.grading.planted import polar_product_exercise
    from workups.documents import dump_exercise

    file = tmp_path / "polar.toml"
    file.write_text(dump_exercise(polar_product_exercise()))
    plan = tmp_path / "plan.toml"
    plan.write_text((DATA / "plans" / "model.toml").read_text().replace(
        "volume_mL = 40", "volume_mL = 12"))
    out = StringIO()
    call_command("assess", str(file), str(plan), "--json", "--draws", "40", stdout=out)
    assert "recovery-below-goal" in found(json.loads(out.getvalue()))
