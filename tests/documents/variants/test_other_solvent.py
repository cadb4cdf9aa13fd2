"""The one test of variants: dichloromethane to ethyl acetate in the dense-solvent exercise.

Everything that hangs on the solvent has to follow: layer, K, portions, brine, drying, gas and
pressure, sheets, waste and bands; and the changed exercise must pass its own checks.
"""

import pytest

from workups.chemistry.plan import Dry, Extract, Strip, Wash
from workups.documents import dump_exercise, library_exercise, load_exercise
from workups.documents.variants import Swap, Variant, VariantDoesNotFit, varied
from workups.explanation.model_summary import drying_lines
from workups.explanation.values_used import values_used
from workups.grading.assess import assess
from workups.sheets.bench_sheet import bench_sheet_html
from workups.sheets.content import BenchSheet, SheetHead
from workups.stock.stock import stock_for_one
from workups.words.sentences import step_caution, step_sentence

DENSE, LIGHT = "dichloromethane", "ethyl_acetate"


@pytest.fixture(scope="module")
def dense():
    return library_exercise("bottom-layer")


@pytest.fixture(scope="module")
def found(dense):
    return varied(dense, Variant((Swap(DENSE, LIGHT),)))


@pytest.fixture(scope="module")
def light(found):
    return found.exercise


@pytest.fixture(scope="module")
def assessed(dense, light):
    return tuple(assess(exercise, seed=1, draws=60) for exercise in (dense, light))


def only(exercise, kind):
    (step,) = [s for s in exercise.model_plan.steps if isinstance(s, kind)]
    return step


def test_the_layer_changes_its_place(dense, light, assessed):
    """Density of dichloromethane 1.33, of ethyl acetate 0.90 g/mL: below and above water."""
    assert [only(e, Extract).keep for e in (dense, light)] == ["lower", "upper"]
    assert [only(e, Wash).keep for e in (dense, light)] == ["lower", "upper"]
    at = light.model_plan.index("extract")
    assert [a.steps[at].top for a in assessed] == ["aqueous", "organic"]


def test_the_partition_coefficient_is_that_of_the_new_solvent(light, found):
    """Read: K of caffeine between ethyl acetate and water is below 1 (values_read, item 2)."""
    used = {(v.of, v.what) for v in values_used(light)}
    assert not [pair for pair in used if DENSE in " ".join(pair)]
    (line,) = [n for n in found.notes if n.startswith("K of caffeine")]
    assert "ethyl acetate and water: 0.71 (from memory: check)" in line


def test_portions_grow_to_what_the_coefficient_asks_for(dense, light, assessed):
    """By hand: 45 mL in three portions at K 0.7 from 60 mL leave (60/(60+0.7*15))^3 = 62 %,
    so three are not enough; six of 30 mL leave (60/(60+0.7*30))^6 = 17 %, salting apart."""
    extract = only(light, Extract)
    assert (extract.portions, extract.volume_mL) == (6, 30)
    (reached,) = [e.recovery.nominal for e in assessed[1].expected]
    assert 0.80 < reached < 0.90
    assert light.setup.targets[0].recovery_goal == 0.8 < dense.setup.targets[0].recovery_goal
    assert light.setup.glassware.funnel_mL > dense.setup.glassware.funnel_mL


def test_brine_is_expected_now_and_matches_the_layer(dense, light):
    assert (dense.choice("brine"), light.choice("brine")) == ("free", "expected")
    assert only(light, Wash).material == "brine"
    assert only(light, Wash).volume_mL > only(dense, Wash).volume_mL


def test_there_is_more_water_to_dry_out(dense, light, assessed):
    """Water in ethyl acetate about 3 %, in dichloromethane about 0.2 %, and four times the
    volume. Brine holds the water that stays dissolved; what the agent takes up is the droplets.
    """
    lines = [
        drying_lines(e, e.model_plan, a)[0] for e, a in zip((dense, light), assessed, strict=True)
    ]
    assert lines[1].dissolved_g > 20 * lines[0].dissolved_g
    assert lines[1].droplets_g > lines[0].droplets_g
    assert lines[1].agent_g > lines[0].agent_g


def test_pressure_and_gas_follow(dense, light, assessed):
    """Vapour pressure at 20 C: dichloromethane 47 kPa, ethyl acetate 10 kPa."""
    at = light.model_plan.index("extract")
    old, new = (a.steps[at].gas for a in assessed)
    assert old is not None
    assert new is None or new.stoppered_gauge_kPa < 0.6 * old.stoppered_gauge_kPa
    assert only(light, Strip).pressure_mbar < 0.4 * only(dense, Strip).pressure_mbar


def test_waste_goes_to_another_stream(dense, light):
    streams = [{w.stream: w.volume_mL for w in stock_for_one(e).waste} for e in (dense, light)]
    assert "halogenated" in streams[0]
    assert "halogenated" not in streams[1]
    assert streams[1]["non_halogenated"] > 2 * streams[0]["halogenated"]


def test_bands_follow_and_the_exercise_passes_its_own_checks(assessed):
    for assessment in assessed:
        assert all(c.score == 1.0 for c in assessment.checks), assessment.checks
    old, new = (a.expected[0].class_band for a in assessed)
    assert new.nominal < old.low
    assert new.high - new.low > old.high - old.low  # the coefficient is less well known


def test_sheets_sentences_and_cautions_do_not_name_the_old_solvent(light):
    texts = [step_sentence(s, light) + step_caution(s, light) for s in light.model_plan.steps]
    texts += [str(light.texts), bench_sheet_html(
        BenchSheet(SheetHead("Course", "A", "K7Q2"), light, light.model_plan))]
    for text in texts:
        assert "dichloromethane" not in text.lower()
        assert "halogenated solvent" not in text.lower()
        assert "DCM" not in text
    assert any("no flames" in c for c in light.texts.cautions)
    assert "bottom" not in light.texts.summary


def test_nobody_can_tell_from_outside(dense, light):
    """A student's sheet carries the same key, title, targets and rubric as everybody's."""
    same = ("key", "title", "rubric", "policy")
    assert [getattr(dense, n) for n in same] == [getattr(light, n) for n in same]
    assert "variant" not in dump_exercise(light)


def test_the_changed_exercise_is_an_exercise_file(light):
    assert load_exercise(dump_exercise(light)) == light
    assert DENSE not in light.setup.materials


def test_other_routes_follow_or_are_left_out_aloud(dense, light, found):
    assert len(light.alternatives) < len(dense.alternatives)
    assert any("other routes" in note for note in found.notes)
    for plan in light.alternatives:
        assert all(s.keep == "upper" for s in plan.steps if isinstance(s, Extract | Wash))


def test_agent_needed_is_reached(light):
    dry = only(light, Dry)
    used = next(n.amount for n in stock_for_one(light).needs if n.key == dry.agent)
    assert used <= 7 * dry.mass_g


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("toluene", "hexane", "is not in this exercise"),
        ("dichloromethane", "brine", "one is a solvent, the other a solution"),
        ("dichloromethane", "moonlight", "the other unknown"),
    ],
)
def test_a_swap_that_cannot_be_is_refused_in_words(dense, old, new, says):
    with pytest.raises(VariantDoesNotFit, match=says):
        varied(dense, Variant((Swap(old, new),)))
