"""`check_values` prints our numbers beside outside ones, with their sources."""

import json
from io import StringIO

from django.core.management import call_command


def printed(*arguments):
    out = StringIO()
    call_command("check_values", *arguments, stdout=out)
    return out.getvalue()


def test_the_table_has_quantity_ours_outside_difference_and_source():
    text = printed()
    head = text.splitlines()[0].split()
    assert head == ["quantity", "ours", "outside", "difference", "tolerance"]
    assert "Modern Analytical Chemistry, McGraw-Hill 2000, example 7.14" in text
    assert "<-- off" not in text


def test_json_holds_the_same_comparisons():
    records = json.loads(printed("--json"))
    one = next(r for r in records if r["subject"] == "one extraction")
    assert one["outside"] == 0.4
    assert abs(one["ours"] - 0.4) <= one["tolerance"]
    assert all(r["source"] for r in records)
