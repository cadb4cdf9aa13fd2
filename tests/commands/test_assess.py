"""`assess` runs the whole computation from files, and says in one line what is wrong with them."""

import json
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from workups.documents import library_text

ROOT = Path(__file__).parent.parent.parent
PLANS = ROOT / "tests" / "data" / "plans"
READINGS = ROOT / "tests" / "data" / "readings"
NAME = "too-much-vinegar"
FAST = ("--draws", "8")


def printed(*arguments):
    out = StringIO()
    call_command("assess", *map(str, arguments), *FAST, stdout=out)
    return out.getvalue()


def refused(*arguments):
    with pytest.raises(CommandError) as caught:
        call_command("assess", *map(str, arguments))
    assert caught.value.returncode == 2
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.fixture(scope="module")
def with_readings():
    return json.loads(printed(NAME, PLANS / "model.toml", READINGS / "yield-128.toml", "--json"))


def test_the_json_has_the_keys_that_other_programs_read(with_readings):
    assert {"engine", "exercise", "expected", "steps", "checks", "readings",
            "diagnosis"} <= set(with_readings)
    assert with_readings["exercise"] == NAME
    (target,) = with_readings["expected"]
    assert {"theoretical_g", "class_band", "plan_band"} <= set(target)
    assert all({"pH", "gas", "top", "phases"} <= set(step) for step in with_readings["steps"])
    for check in with_readings["checks"]:
        assert {"name", "score", "points", "findings"} <= set(check)
        for finding in check["findings"]:
            assert {"code", "strength", "step", "numbers", "message"} <= set(finding)


def test_the_json_tells_volume_and_amounts_by_flask_and_phase(with_readings):
    wash = next(s for s in with_readings["steps"] if s["step"] == "wash-water")
    layer = next(p for p in wash["phases"]
                 if (p["flask"], p["phase"]) == ("organic layer", "organic"))
    assert 40 < layer["volume_mL"] < 55
    assert 40 < layer["amounts_mmol"]["hexyl_acetate"] < 45


def test_theoretical_yield_and_percent_yield_are_those_of_a_hand_calculation(with_readings):
    """5.11 g / 102.177 g/mol * 144.214 g/mol = 7.212 g; 9.23 g / 7.212 g = 128.0 %."""
    (target,), (found,) = with_readings["expected"], with_readings["readings"]
    assert target["theoretical_g"] == pytest.approx(7.212, abs=0.002)
    assert found["mass_g"] == pytest.approx(9.23, abs=1e-9)
    assert found["percent"] == pytest.approx(128.0, abs=0.1)


def test_without_a_plan_the_model_plan_is_assessed():
    steps = json.loads(printed(NAME, "--json"))["steps"]
    assert [s["step"] for s in steps] == [
        s["step"] for s in json.loads(printed(NAME, PLANS / "model.toml", "--json"))["steps"]]


def test_a_file_gives_what_the_library_gives(tmp_path):
    file = tmp_path / "copy.toml"
    file.write_text(library_text(NAME), encoding="utf-8")
    assert printed(file, "--json") == printed(NAME, "--json")


def test_the_text_is_a_report_in_sections():
    text = printed(NAME, PLANS / "bicarbonate-stoppered-at-once.toml",
                   READINGS / "as-planned.toml")
    for heading in ("EXPECTED\n", "STEPS ", "CHECKS\n", "READINGS\n"):
        assert heading in text
    assert "SAFETY HOLD at wash-bicarbonate" in text
    assert "theoretical        7.21 g" in text
    assert max(map(len, text.splitlines())) <= 92
    assert "e+0" not in text


def test_the_seed_decides_about_the_ranges():
    once, again = printed(NAME, "--json"), printed(NAME, "--json", "--seed", "2")
    assert once == printed(NAME, "--json")
    assert json.loads(once)["expected"] != json.loads(again)["expected"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("too-little-vinegar",), "too-little-vinegar: neither a file nor in the library, which "
                                  "holds: "),
        (("none.toml",), "none.toml: there is no such file"),
        ((ROOT,), "is a directory: expected a TOML file"),
        ((PLANS / "model.toml",), 'document: expected "exercise", found "plan"'),
        ((NAME, READINGS / "as-planned.toml"), 'document: expected "plan", found "readings"'),
        ((NAME, PLANS / "model.toml", PLANS / "model.toml"),
         'document: expected "readings", found "plan"'),
        ((NAME, PLANS / "model.toml", "none.toml"), "none.toml: there is no such file"),
        ((NAME, "--draws", "many"),
         "--draws: expected a whole number from 2 to 100000, found many"),
        ((NAME, "--seed", "-1"), "--seed: expected a whole number from 0 to"),
    ])
def test_bad_input_is_answered_with_one_line(arguments, said):
    assert said in refused(*arguments)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"\x89PNG\r\n\x1a\n\x00", "is a binary file"),
        (b"#" * 200_001, "is too large: expected at most 200 kB"),
        (b"document = ", "line 1: is not valid TOML: invalid value"),
        (b"", 'document: is missing: expected document = "plan"'),
        (b'document = "plan"\nversion = 1\nstep = []', "expected at least one step, found none"),
        (b'document = "plan"\nversion = 1\n[[step]]\nverb = "dry"\nid = "dry"\nflask = "x"\n'
         b'agent = "sodium_sulphate"', 'line 7: step[1].agent: expected a drying agent, found '
         '"sodium_sulphate" (did you mean "sodium_sulfate"?)'),
        (b'document = "plan"\nversion = 1\n[[step]]\nverb = "weigh"\nid = "w"\nflask = "x"',
         'step w: flask: flask "x" does not exist at this point'),
    ])
def test_a_bad_plan_file_is_answered_with_one_line(tmp_path, data, said):
    file = tmp_path / "plan.toml"
    file.write_bytes(data)
    message = refused(NAME, file)
    assert message.startswith(f"{file}: ")
    assert said in message


def test_on_the_command_line_bad_input_ends_with_status_two_and_one_line():
    ended = subprocess.run([sys.executable, "manage.py", "assess", "none.toml"], cwd=ROOT,
                           capture_output=True, text=True, timeout=60, check=False)
    assert ended.returncode == 2
    assert ended.stdout == ""
    assert ended.stderr == "CommandError: none.toml: there is no such file\n"


def test_on_the_command_line_a_run_ends_with_status_zero_whatever_the_marks():
    ended = subprocess.run(
        [sys.executable, "manage.py", "assess", NAME, PLANS / "product-layer-discarded.toml",
         "--json", *FAST], cwd=ROOT, capture_output=True, text=True, timeout=100, check=False)
    assert ended.returncode == 0, ended.stderr
    assert json.loads(ended.stdout)["points"] < json.loads(ended.stdout)["out_of"]
