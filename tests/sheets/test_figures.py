"""The four figures: what they say, that sums are right, and what they hide before the lock."""

import dataclasses
import re
from collections.abc import Callable
from xml.etree import ElementTree

import pytest

from workups.chemistry.plan import Plan
from workups.chemistry.tables import tables
from workups.exercise.exercise import Exercise
from workups.grading.assessment import Assessment, PhaseReport
from workups.sheets.bands import yield_figure
from workups.sheets.curve import recovery_figure
from workups.sheets.funnel import funnel_figure, stacked
from workups.sheets.funnel_drawn import level_of_volume
from workups.sheets.scheme import scheme_figure
from workups.sheets.svg import NAMESPACE, Figure
from workups.words.numbers import NBSP

SVG = f"{{{NAMESPACE}}}"
TARGET = "hexyl_acetate"


def root_of(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # noqa: S314 (our own output)


def plain(text: str) -> str:
    return text.replace(NBSP, " ")


def drawn_text(figure: Figure) -> list[str]:
    root = root_of(figure.svg)
    return [plain(e.text or "") for e in root.findall(f"{SVG}text")]


@pytest.fixture
def figures(
    exercise: Exercise, plan: Plan, assessment: Assessment
) -> dict[str, Callable[[bool], Figure]]:
    def funnel(at: int, hide: bool) -> Figure:
        reports = assessment.steps
        return funnel_figure(exercise, plan, reports, reports[at].step, shares_only=hide)

    expected, found = assessment.expected[0], assessment.readings[0]
    return {
        "funnel": lambda hide: funnel(0, hide),
        "gas": lambda hide: funnel(1, hide),
        "scheme": lambda hide: scheme_figure(exercise, plan, assessment.steps, shares_only=hide),
        "recovery": lambda _hide: recovery_figure(expected),
        "yield": lambda hide: yield_figure(expected, found, shares_only=hide),
    }


ALL = ("funnel", "gas", "scheme", "recovery", "yield")


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("hide", [True, False])
def test_a_figure_is_well_formed_and_has_title_text_and_table(
    figures: dict[str, Callable[[bool], Figure]], name: str, hide: bool
) -> None:
    figure = figures[name](hide)
    root = root_of(figure.svg)
    assert root.findtext(f"{SVG}title") == figure.title
    assert root.findtext(f"{SVG}desc") == figure.text
    assert figure.rows
    assert all(len(row) == len(figure.header) for row in figure.rows)


@pytest.mark.parametrize("name", ALL)
def test_a_figure_needs_nothing_that_a_strict_policy_forbids(
    figures: dict[str, Callable[[bool], Figure]], name: str
) -> None:
    root = root_of(figures[name](False).svg)
    tags = {e.tag.removeprefix(SVG) for e in root.iter()}
    attributes = {a for e in root.iter() for a in e.attrib}
    assert not tags & {"style", "script", "foreignObject", "image", "a", "use"}
    assert "style" not in attributes
    assert not [a for a in attributes if a.startswith("on") or "href" in a]


@pytest.mark.parametrize("name", ALL)
def test_a_figure_takes_its_ink_from_the_page(
    figures: dict[str, Callable[[bool], Figure]], name: str
) -> None:
    root = root_of(figures[name](False).svg)
    inks = {e.attrib[a] for e in root.iter() for a in ("fill", "stroke") if a in e.attrib}
    assert all(ink in ("none", "currentColor") or ink.startswith("url(#") for ink in inks)


@pytest.mark.parametrize("name", ["funnel", "gas", "scheme", "yield"])
def test_before_the_lock_no_figure_shows_grams_or_moles_of_anything(
    figures: dict[str, Callable[[bool], Figure]], name: str
) -> None:
    hidden, shown = figures[name](True), figures[name](False)
    mass = re.compile(r"\d\s*(m?mol|m?g)\b(?!/mL)")
    assert not mass.search(plain(f"{hidden.svg} {hidden.text} {hidden.rows}"))
    assert mass.search(plain(f"{shown.svg} {shown.text} {shown.rows}"))


@pytest.mark.parametrize("name", ALL)
def test_the_same_input_gives_the_same_figure(
    figures: dict[str, Callable[[bool], Figure]], name: str
) -> None:
    assert figures[name](False) == figures[name](False)


def wash_phases(assessment: Assessment) -> tuple[PhaseReport, ...]:
    return assessment.steps[0].phases


def test_the_funnel_has_the_organic_layer_on_top(assessment: Assessment) -> None:
    upper, lower = stacked(wash_phases(assessment), "organic", tables())
    assert (upper.position, upper.phase.phase) == ("upper", "organic")
    assert (lower.position, lower.phase.phase) == ("lower", "aqueous")


def test_a_heavy_solvent_lies_below(assessment: Assessment) -> None:
    layers = stacked(wash_phases(assessment), "aqueous", tables())
    assert [layer.phase.phase for layer in layers] == ["aqueous", "organic"]


def test_the_shares_of_a_substance_in_both_layers_add_up(assessment: Assessment) -> None:
    upper, lower = stacked(wash_phases(assessment), "organic", tables())
    for key, share, _ in upper.shares:
        assert share + {k: s for k, s, _ in lower.shares}[key] == pytest.approx(1.0)
    # 44.5 of 45.0 mmol by the numbers written into the sample.
    assert {k: s for k, s, _ in upper.shares}[TARGET] == pytest.approx(44.5 / 45.0)


def test_the_funnel_says_what_is_in_each_layer_with_pH_to_one_decimal(
    figures: dict[str, Callable[[bool], Figure]],
) -> None:
    text = plain(figures["funnel"](True).text)
    assert "Upper layer: organic, 49 mL, 0.79 g/mL. In it: hexyl acetate: 99 % of it" in text
    assert "Lower layer: aqueous, 31 mL, 1.01 g/mL, pH 2.4. In it: hexyl acetate: 1 % of it" in text
    assert "acetic acid: 85 % of it" in text
    assert "the lower goes to ‘washings’; the upper to ‘funnel’, kept." in text
    assert "MTBE" not in text


def test_gas_pressure_and_close_densities_are_always_told(
    figures: dict[str, Callable[[bool], Figure]],
) -> None:
    words = " ".join(drawn_text(figures["gas"](False)))
    assert "Gas: about 610 mL with vapour (340 mL dry, 400 mL at the cautious end)." in words
    words = " ".join(drawn_text(figures["gas"](True)))
    assert "Gas: up to 400 mL, more with vapour in it." in words
    assert "gas and vapour would raise the pressure by up to 75 kPa" in words
    assert "only 0.02 g/mL apart in density" in words


def test_layers_stand_as_high_as_their_volume_does_in_the_glass() -> None:
    levels = [level_of_volume(share) for share in (0.0, 0.25, 0.5, 0.75, 1.0)]
    assert levels[0] == 0.0
    assert levels[-1] == pytest.approx(1.0)
    assert levels == sorted(levels)
    # In a cone the first quarter stands highest: (1/4)^(1/3) of the height of the whole cone.
    assert levels[1] > 0.4


def test_a_step_without_layers_has_no_funnel(
    exercise: Exercise, plan: Plan, assessment: Assessment
) -> None:
    with pytest.raises(ValueError, match="no layers"):
        funnel_figure(exercise, plan, assessment.steps, "s9", shares_only=True)


def test_the_recovery_curve_says_where_the_goal_is_reached(
    figures: dict[str, Callable[[bool], Figure]],
) -> None:
    figure = figures["recovery"](False)
    text = plain(figure.text)
    assert text.startswith("The goal is 95 %.")
    # 1 - 0.25/3^1.5 = 0.952 and 1 - 0.25^3 = 0.984, the first above the goal of 0.95 in each.
    assert text.count("the goal is reached with 3 portions") == 2
    assert "goal 95 %" in drawn_text(figure)
    assert [row[0] for row in figure.rows] == ["1", "2", "3", "4", "5", "6"]


def test_a_goal_out_of_reach_is_said_to_be_so(assessment: Assessment) -> None:
    expected = dataclasses.replace(assessment.expected[0], recovery_goal=0.9999)
    assert "the goal is not reached with 6 portions" in recovery_figure(expected).text


def test_the_yield_picture_has_both_bands_and_the_point(
    figures: dict[str, Callable[[bool], Figure]],
) -> None:
    words = drawn_text(figures["yield"](False))
    assert "Expected of the class: 6.31 g" in words
    assert "Expected for what was done: 6.12 g" in words
    assert "Found: 5.925 ± 0.015 g" in words
    assert "theoretical 7.17 g" in words


def test_the_line_of_the_theoretical_yield_runs_through_no_words(
    figures: dict[str, Callable[[bool], Figure]],
) -> None:
    root = root_of(figures["yield"](False).svg)
    dashed = [e for e in root.findall(f"{SVG}line") if "stroke-dasharray" in e.attrib]
    names = ("Expected", "Found")
    words = [e for e in root.findall(f"{SVG}text") if (e.text or "").startswith(names)]
    assert len(words) == 3
    assert dashed
    for e in words:
        foot = float(e.attrib["y"])
        for line in dashed:
            start, end = float(line.attrib["y1"]), float(line.attrib["y2"])
            assert end <= foot - 10 or start >= foot + 3, e.text


def test_the_yield_picture_in_percent_has_the_same_places(
    figures: dict[str, Callable[[bool], Figure]],
) -> None:
    def places(figure: Figure) -> list[float]:
        root = root_of(figure.svg)
        return [float(e.attrib["x"]) for e in root.findall(f"{SVG}rect")]

    assert places(figures["yield"](True)) == pytest.approx(
        places(figures["yield"](False)), abs=0.02
    )


def test_without_readings_the_plan_takes_the_place_of_what_was_done(assessment: Assessment) -> None:
    words = drawn_text(yield_figure(assessment.expected[0], None))
    assert "Expected for the plan: 6.25 g" in words
    assert not [w for w in words if w.startswith("Found")]
