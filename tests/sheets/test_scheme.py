"""The separation scheme: nothing is lost on its way through it, nothing is drawn over, and it is
there for every plan that can be typed."""

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import pytest

from tests.grading.plans import any_plan, every_exercise
from workups.chemistry.plan import START_FLASK, Combine, Discard, Extract, Plan, Separate, Weigh
from workups.documents import library_exercise, library_names
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.assessment import StepReport
from workups.sheets.scheme import scheme_figure
from workups.sheets.scheme.columns import places
from workups.sheets.scheme.structure import Kind, Scheme, parted, scheme_of
from workups.sheets.svg import NAMESPACE, Figure
from workups.words.numbers import NBSP

SVG = f"{{{NAMESPACE}}}"
LIBRARY = library_names()


@cache
def reports_of_library(name: str) -> tuple[StepReport, ...]:
    return assess(library_exercise(name), draws=2).steps


def reports_of(exercise: Exercise) -> Sequence[StepReport]:
    return reports_of_library(exercise.key)


def targets_of(exercise: Exercise) -> list[str]:
    return [target.substance for target in exercise.setup.targets]


@pytest.fixture(params=LIBRARY)
def exercise(request: pytest.FixtureRequest) -> Exercise:
    return library_exercise(request.param)


@pytest.fixture
def scheme(exercise: Exercise) -> Scheme:
    return scheme_of(exercise.model_plan, targets_of(exercise), reports_of(exercise))


def generated_plans() -> list[tuple[Exercise, Plan]]:
    exercises = every_exercise()
    return [
        (exercises[seed % len(exercises)], any_plan(exercises[seed % len(exercises)], seed))
        for seed in range(120)]


def test_what_goes_on_and_what_is_lost_make_up_what_was_there(scheme: Scheme) -> None:
    for i, vessel in enumerate(scheme.vessels):
        legs = [leg for arm in scheme.arms if arm.source == i for leg in arm.legs]
        onward = parted(scheme, i)
        for target in range(len(scheme.targets) if onward else 0):
            lost = sum(x.share for leg in legs for x in leg.lost if x.target == target)
            # Losses under 1 % a step are not told, and droplets stay in the funnel.
            assert onward[target] + lost == pytest.approx(vessel.shares[target], abs=0.035)


def test_the_product_ends_in_what_is_weighed(exercise: Exercise, scheme: Scheme) -> None:
    weighed = [v for v in scheme.vessels if v.weighed_at is not None]
    assert len(weighed) == len(exercise.setup.targets)
    for target in range(len(scheme.targets)):
        assert max(v.shares[target] for v in weighed) > 0.75


def crosses_a_box(scheme: Scheme) -> bool:
    """Whether an arm goes down through the place of a vessel that it does not lead to."""
    where = places(scheme)
    taken = {(place.row, place.column) for place in where}
    for arm in scheme.arms:
        source, goal = where[arm.source], where[arm.goal]
        if any((row, source.column) in taken for row in range(source.row + 1, goal.row)):
            return True
    return len(taken) < len(where)


def test_no_vessel_is_drawn_over_another_or_over_an_arm(scheme: Scheme) -> None:
    assert not crosses_a_box(scheme)


def test_every_plan_that_can_be_typed_has_a_scheme() -> None:
    for exercise, plan in generated_plans():
        drawn = scheme_of(plan, targets_of(exercise))
        assert drawn.vessels[0].flask == START_FLASK
        assert not crosses_a_box(drawn)
        figure = scheme_figure(exercise, plan, shares_only=True)
        for svg in (figure.svg, figure.narrow):
            ElementTree.fromstring(svg)  # noqa: S314 (our own output)


def test_a_step_is_told_once_and_every_step_that_moves_something_is_told() -> None:
    for _, plan in generated_plans():
        told = [leg.at for arm in scheme_of(plan, ()).arms for leg in arm.legs]
        assert len(told) == len(set(told))
        parts = {i for i, step in enumerate(plan.steps) if step.layers()}
        assert parts <= set(told)


def test_a_plan_that_stops_half_way_is_drawn_whole_with_shares_as_far_as_they_go() -> None:
    exercise = library_exercise("plain-ether")
    reports = reports_of(exercise)[:4]
    drawn = scheme_of(exercise.model_plan, targets_of(exercise), reports)
    whole = scheme_of(exercise.model_plan, targets_of(exercise))
    assert [v.flask for v in drawn.vessels] == [v.flask for v in whole.vessels]
    assert [bool(v.shares) for v in drawn.vessels] == [v.at < 4 for v in drawn.vessels]


def test_single_portions_that_are_combined_meet_in_one_vessel() -> None:
    again = (
        Extract(
            id=str(n), flask=START_FLASK if n == 1 else "water", material="mtbe", volume_mL=20,
            keep_in="extracts", other_in="water")
        for n in (1, 2, 3))
    drawn = scheme_of(Plan(tuple(again)), ())
    last = len(drawn.vessels) - 1 - [v.flask for v in drawn.vessels][::-1].index("extracts")
    kinds = sorted(arm.kind for arm in drawn.arms if arm.goal == last)
    assert kinds == [Kind.ASIDE, Kind.ON]
    assert not crosses_a_box(drawn)


def test_flasks_poured_together_join() -> None:
    plan = Plan((
        Separate(id="1", flask=START_FLASK, keep_in="ether", other_in="water"),
        Combine(id="2", flasks=("ether", "water"), into="beaker"),
        Weigh(id="3", flask="beaker"),
        Discard(id="4", flask="beaker")))
    drawn = scheme_of(plan, ())
    assert [(a.source, a.goal, a.kind) for a in drawn.arms] == [
        (0, 1, Kind.ON), (0, 2, Kind.ASIDE), (1, 3, Kind.ON), (2, 3, Kind.JOINS)]
    assert (drawn.vessels[3].weighed_at, drawn.vessels[3].discarded_at) == (2, 3)


def test_washings_that_are_pooled_are_each_drawn_where_they_leave() -> None:
    drawn = scheme_of(library_exercise("plain-ether").model_plan, ())
    pooled = [i for i, v in enumerate(drawn.vessels) if v.flask == "aqueous layer"]
    assert len(pooled) == 2
    assert all(drawn.vessels[i].discarded_at is not None for i in pooled)
    assert not any(arm.source in pooled for arm in drawn.arms)


def figure_of(name: str, **more: object) -> Figure:
    exercise = library_exercise(name)
    options = {"shares_only": True, **more}
    return scheme_figure(exercise, exercise.model_plan, reports_of(exercise), **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", LIBRARY)
def test_all_that_is_written_stays_inside_the_picture(name: str) -> None:
    figure = figure_of(name)
    for svg in (figure.svg, figure.narrow):
        root = ElementTree.fromstring(svg)  # noqa: S314 (our own output)
        width, height = float(root.attrib["width"]), float(root.attrib["height"])
        for text in root.iter(f"{SVG}text"):
            size = float(text.attrib["font-size"])
            right = float(text.attrib["x"]) + 0.5 * size * len(text.text or "")
            assert right <= width + 1, text.text
            assert 0 < float(text.attrib["y"]) <= height


@pytest.mark.parametrize("name", LIBRARY)
def test_a_scheme_is_light_enough_for_a_phone(name: str) -> None:
    figure = figure_of(name)
    assert len(figure.svg) + len(figure.narrow) < 100_000


def test_what_was_found_stands_at_its_step() -> None:
    exercise = library_exercise("plain-ether")
    step = next(s.id for s in exercise.model_plan.steps if s.verb == "wash")
    figure = figure_of("plain-ether", remarks={step: ["Product loss"]})
    assert figure.svg.count("Product loss") == 2  # drawn, and in the words for who does not see it
    assert "Product loss" in figure.text


def test_a_step_leads_to_where_it_is_told() -> None:
    figure = figure_of("plain-ether", link=lambda step: f"#step-{step.id}")
    for svg in (figure.svg, figure.narrow):
        root = ElementTree.fromstring(svg)  # noqa: S314 (our own output)
        addresses = {e.attrib["href"] for e in root.iter(f"{SVG}a")}
        parts = {f"#step-{s.id}" for s in library_exercise("plain-ether").model_plan.steps
                 if s.layers()}
        assert parts <= addresses
        # Links that are no stop of the keyboard: the same steps stand in the list beside it.
        assert all(e.attrib["tabindex"] == "-1" for e in root.iter(f"{SVG}a"))
        assert root.attrib["aria-hidden"] == "true"


def test_without_reports_nothing_is_told_but_what_the_plan_says() -> None:
    exercise = library_exercise("too-much-vinegar")
    figure = scheme_figure(exercise, exercise.model_plan, shares_only=True)
    said = f"{figure.text} {figure.rows} {figure.svg}".replace(NBSP, " ")
    assert not re.search(r"\d %(?! (sodium|potassium|hydro|cit|phos|sulf|bi))", said)
    assert "pH" not in figure.text or "Bring to pH" in figure.text


def test_words_go_from_vessel_to_vessel() -> None:
    text = figure_of("plain-ether").text.replace(NBSP, " ")
    assert text.startswith("Start: ‘reaction flask’, product 100 %.")
    assert "From ‘reaction flask’, set aside: ‘aqueous layer’, lower: aqueous" in text
    assert text.endswith("weighed, step 11.")


def test_a_weighed_vessel_says_that_there_is_no_product_in_it() -> None:
    exercise = library_exercise("plain-ether")
    first = exercise.model_plan.of(Extract)[0]
    wrong = Plan(tuple(
        replace(s, keep="lower") if s is first else s for s in exercise.model_plan.steps))
    reports = assess(exercise, wrong, draws=2).steps
    figure = scheme_figure(exercise, wrong, reports, shares_only=True)
    assert figure.text.replace(NBSP, " ").endswith("no product, weighed, step 11.")
