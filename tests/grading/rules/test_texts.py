"""What students read of a rule stands in the file of its topic, whole and used."""

from __future__ import annotations

import ast
import string
import tomllib
from pathlib import Path

import pytest

from workups.grading import rules
from workups.grading.rule import RULES, Words

RULES_FOLDER = Path(rules.__file__).parent
FILES = sorted((RULES_FOLDER / "texts").glob("*.toml"))
OF_A_RULE = {"title", "source", "text", "message", "change"}


def entries(path: Path) -> dict[str, dict[str, object]]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def said(path: Path) -> dict[tuple[str, str], list[ast.keyword]]:
    """What a topic's module says: the parts it puts in, by rule and wording (empty where that is
    computed)."""
    module = ast.parse((RULES_FOLDER / f"{path.stem}.py").read_text(encoding="utf-8"))
    calls = [n for n in ast.walk(module) if isinstance(n, ast.Call)
             and isinstance(n.func, ast.Name) and n.func.id == "say"]
    return {(c.args[0].value, getattr(c.args[1], "value", "") if c.args[1:] else ""): c.keywords
            for c in calls}


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_a_topics_words_are_those_of_its_rules_and_each_is_said(path: Path) -> None:
    assert {code for code, rule in RULES.items()
            if rule.find.__module__.endswith(f".{path.stem}")} == set(entries(path))
    assert {code for code, _ in said(path)} == set(entries(path))
    for code, words in entries(path).items():
        assert {key for key, value in words.items() if isinstance(value, str)} <= OF_A_RULE
        assert (RULES[code].title, RULES[code].source) == (words["title"], words["source"])


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_every_part_that_a_wording_names_is_put_in(path: Path) -> None:
    for code, words in entries(path).items():
        wordings = {"": words} if "message" in words else {}
        wordings |= {key: value for key, value in words.items() if isinstance(value, dict)}
        put_in = {k.arg for (c, _), keywords in said(path).items() if c == code for k in keywords}
        for wording in wordings.values():
            named = {name for text in (wording["message"], wording["change"])
                     for _, name, _, _ in string.Formatter().parse(text) if name}
            assert named <= put_in, (code, named - put_in)


def test_a_wording_is_said_with_its_parts() -> None:
    message, change = Words("bookkeeping")("weighed-before-stripping", solvent_mL=12.4)
    assert "about 12 mL of solvent" in message
    assert change == "Weigh it when the solvent is off, cool and dry outside."
