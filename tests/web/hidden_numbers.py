"""What must not be read before the lock, and how a page is searched for it.

The hidden masses are those of an assessment: the bands of the class and of the plan, what the
product trail holds of each target after each step, and the same as mg, mmol and per cent of
theory. A number on a page gives one away if it is that value at the number's own decimals, so
every rounding is searched for at once.
"""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from workups.chemistry.tables import tables
from workups.words.material_facts import molar_mass

# Geometry of a drawing: places and sizes on paper, in hundredths of a picture's unit.
_GEOMETRY = re.compile(
    r'\b(?:x|y|x1|x2|y1|y2|cx|cy|r|rx|ry|d|dx|dy|points|width|height|viewBox|transform'
    r'|patternTransform|font-size|stroke-width|stroke-dasharray)="[^"]*"'
)
# Public ids and tokens: long words of random signs, which spell numbers now and then.
_IDS = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}|\w{30,}")
_NUMBER = re.compile(
    r"(?<![\w.,])(?P<number>\d+(?:[.,]\d+)?)(?!\d|[.,]\d)"
    r"(?:[\s\u00a0]*(?P<unit>mg|mmol|g|%)(?!\w)|(?!\w))"
)
MARK = "quagga"


@dataclass(frozen=True)
class Hidden:
    """One value that must not appear, in `unit`; `name` says which it is."""

    name: str
    value: float
    unit: str


def hidden_values(assessment: Mapping[str, Any]) -> Iterator[Hidden]:
    """The values of a stored assessment that a student may not see before the lock."""
    for expected in assessment["expected"]:
        target, theory_g = expected["target"], expected["theoretical_g"]
        for band in ("class_band", "plan_band"):
            for end in ("nominal", "low", "high"):
                name = f"{target}, {band}, {end}"
                yield from mass_in_all_units(name, target, expected[band][end], theory_g)
        for step, mass_g in trail_masses(assessment["steps"], target):
            # All that was charged, in a separation: it stands in the reagent table.
            if abs(mass_g - theory_g) < 1e-9 * theory_g:
                continue
            yield from mass_in_all_units(f"{target} after {step}", target, mass_g, theory_g)


def trail_masses(
    steps: Iterable[Mapping[str, Any]], target: str
) -> Iterator[tuple[str, float]]:
    """Mass of a target where most of it is, after each step, and all of it, in g."""
    for step in steps:
        masses = [share["mass_g"] for share in step["trail"] if share["target"] == target]
        if masses:
            yield f"{step['step']} (most)", max(masses)
            yield f"{step['step']} (all)", sum(masses)


def mass_in_all_units(
    name: str, target: str, mass_g: float, theory_g: float
) -> Iterator[Hidden]:
    yield Hidden(name, mass_g, "g")
    yield Hidden(name, mass_g * 1e3, "mg")
    yield Hidden(name, mass_g * 1e3 / molar_mass(target, tables()), "mmol")
    yield Hidden(name, mass_g / theory_g * 100, "%")


def given_away(
    text: str, hidden: Collection[Hidden], known: frozenset[str] = frozenset()
) -> list[str]:
    """Numbers in a text that are a hidden value at their own decimals; `known` ones are not.

    With a fitting unit two figures are enough (three for per cent, since shares in whole per
    cent are shown); without one, as in JSON or a table's cell, three figures. "100 %" is such a
    share too: all of it is still in the flask.
    """
    found = []
    for number, unit in numbers_in(text):
        figures = len(number.replace(".", "").lstrip("0"))
        if number in known or figures < (2 if unit in ("g", "mg", "mmol") else 3):
            continue
        decimals = len(number.partition(".")[2])
        found += [
            f"{number} {unit} is {h.name}, {h.value:.5f} {h.unit}"
            for h in hidden
            if unit in ("", h.unit) and h.value > 0 and float(number) == round(h.value, decimals)
            and (number, h.unit) != ("100", "%")
        ]
    return found


def numbers_in(text: str) -> set[tuple[str, str]]:
    """The different numbers of a text, each with the unit that follows it."""
    matches = _NUMBER.finditer(_IDS.sub("", _GEOMETRY.sub("", text)))
    return {(m["number"].replace(",", "."), m["unit"] or "") for m in matches}


def mark_model_plan(document: str) -> str:
    """The exercise with the model plan's and the alternatives' own words made unmistakable."""
    given, rule, routes = document.partition("# --- the instructor's own route")
    assert rule, "the file does not say where the routes begin"
    flasks = set(re.findall(r'^(?:keep_in|other_in|into) = "([^"]+)"', routes, re.M))
    flasks |= set(re.findall(r'verb = "tare"\nid = "[^"]+"\nflask = "([^"]+)"', routes))
    for number, flask in enumerate(sorted(flasks - {"waste", "reaction flask"})):
        routes = routes.replace(f'"{flask}"', f'"{MARK} {number}"')
    routes = re.sub(r'^id = "', f'id = "{MARK}-', routes, flags=re.M)
    routes = re.sub(r'^(note|text) = "', rf'\1 = "{MARK}: ', routes, flags=re.M)
    return given + rule + routes
