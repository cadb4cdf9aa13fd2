"""The panel beside the form: everything about the model plan, as far as it can be computed."""

import pytest
from django.urls import reverse

from workups.documents import library_text
from workups.documents.blank import BLANK_EXERCISE
from workups.documents.lenient import read_leniently
from workups.services.drafts import start_draft
from workups.web.authoring.form.live import live_model

pytestmark = pytest.mark.usefixtures("few_draws")
TEXT = library_text("too-much-vinegar")


@pytest.fixture
def panel_of(sign_in, instructor, course):
    def page(text, **headers):
        draft = start_draft(actor=instructor, course=course, document=text)
        url = reverse("check-draft", args=[draft.public_id])
        return sign_in(instructor).get(url, headers=headers).content.decode()

    return page


def test_everything_about_the_model_plan_stands_in_the_panel(panel_of):
    page = panel_of(TEXT, **{"HX-Request": "true"})
    assert "<html" not in page
    for text in (
        "leaves with the vapour at step 13",
        "from memory or common practice",
        "Value from memory: log10 K, methyl tert-butyl ether",
        "Checks of the model plan",
        "of 7.21",
        "kPa if stoppered at once",
        "g of water dissolved",
        "Waste for one student",
        "Acid waste",
        "Recovery of hexyl acetate by number of portions",
        "Lower layer: aqueous",
        "Hexyl acetate: ",
        'class="step__caution"',
        "Starting mixture",
        "Amounts charged",
        ">3.00</td>",
        "with these numbers",
    ):
        assert text in page, text


def test_without_script_it_is_a_page(panel_of):
    assert "Back to the form" in panel_of(TEXT)


def test_what_is_wrong_elsewhere_does_not_stop_the_chemistry(panel_of):
    text = TEXT.replace("order = 25", 'order = "many"').replace("value = \"500\"", 'value = "x"')
    page = panel_of(text)
    assert "Checks of the model plan" in page
    assert "things left before it can be published" in page
    assert "with these numbers" not in page


def test_a_plan_is_followed_up_to_the_step_that_is_not_right_yet(panel_of):
    text = TEXT.replace('flask = "bicarbonate washings"\nhow', 'flask = "nowhere"\nhow')
    page = panel_of(text)
    assert "The first 7 of 17 steps" in page
    assert read_leniently(text).steps == 7


def test_before_there_is_a_plan_the_starting_mixture_is_shown(panel_of):
    text = TEXT[: TEXT.index("[[model_plan.step]]")]
    page = panel_of(text)
    assert "needs a model plan" in page
    assert "Hexyl acetate</th>" in page
    # 5.11 g of 1-hexanol, 102.18 g/mol, 87 % turned over
    mixture = {line.name: line.amount_mmol for line in live_model(text).mixture}
    assert mixture["hexyl acetate"] == pytest.approx(5.11 / 102.18 * 870, rel=1e-3)


def test_a_blank_exercise_says_what_comes_first(panel_of):
    page = panel_of(BLANK_EXERCISE)
    assert "It begins with a reaction table" in page
    assert "something is still to be filled in" in page


def test_a_slip_of_a_unit_and_a_funnel_too_small_are_asked_about(panel_of):
    text = TEXT.replace("mass_g = 5.11", "mass_g = 511")
    page = panel_of(text.replace("funnel_mL = 250", "funnel_mL = 50"))
    assert "Is this meant?" in page
    assert "more than a student handles" in page
    assert "the funnel be larger" in page


def test_a_reagent_that_cannot_be_counted_stops_the_panel_and_not_the_page(panel_of):
    text = TEXT.replace(
        'substance = "sulfate"', 'substance = "mystery"\ncomposition = { sodium = 1 }'
    )
    assert "cannot be carried out" in panel_of(text)


def test_what_is_asked_about_is_asked_again_before_publishing(sign_in, instructor, course):
    product = '[[reaction.product]]\nsubstance = "hexyl_acetate"\n'
    text = TEXT.replace(product, f"{product}coefficient = 2\n")
    draft = start_draft(actor=instructor, course=course, document=text)
    client = sign_in(instructor)
    for name in ("preview-draft", "publish-exercise"):
        page = client.get(reverse(name, args=[draft.public_id])).content.decode()
        assert "The equation does not balance" in page, name


def test_an_own_value_that_is_not_complete_is_left_out_of_the_look(panel_of):
    page = panel_of(f'{TEXT}\n[values."pKa1:acetic_acid"]\nvalue = 4.7\n')
    assert "Checks of the model plan" in page
    assert "left before it can be published" in page


def test_no_mass_is_expected_of_a_plan_that_does_not_weigh_yet(panel_of):
    page = panel_of(TEXT.replace('flask = "bicarbonate washings"\nhow', 'flask = "nowhere"\nhow'))
    assert "A class, 90" not in page
    assert "of what is weighed as" not in page
    assert "Step by step" in page
