"""Prep sheets, variants, revisions and new terms in a browser: they fit and are accessible."""

import pytest
from django.urls import reverse

from tests.browser.accessible import assert_accessible
from tests.browser.test_staff_pages import url_of
from tests.long import IS_LONG
from workups.documents.variants import AmountSpread, Swap, Variant
from workups.models import ExerciseVariant
from workups.services.drafts import start_draft
from workups.services.exercises import publish_revision
from workups.services.moving import move_students
from workups.services.variants import add_variant, give_variant_to_student

pytestmark = pytest.mark.usefixtures("few_draws")
ETHYL_ACETATE = Variant(
    (Swap("mtbe", "ethyl_acetate"),), spreads=(AmountSpread("1_hexanol", 0.1),)
)
LOOKS = [(360, "dark")]
LOOKS += [(360, "light"), (820, "dark"), (820, "light"), (1440, "light")] if IS_LONG else []


@pytest.fixture
def changed(revision, instructor):
    """A second revision, with other points and amounts."""
    text = revision.document.replace("\norder = 25\n", "\norder = 30\n")
    return publish_revision(
        actor=instructor,
        course=revision.course,
        key=revision.key,
        title="Too much vinegar: hexyl acetate out of an acid excess",
        document=text.replace("mass_g = 5.11", "mass_g = 5.20"),
    )


@pytest.fixture
def pages(course, assignment, revision, changed, submitted_work, classmates_work, instructor):
    instructor.may_open_courses = True
    instructor.save()
    variant = add_variant(
        actor=instructor, revision=revision, title="Ethyl acetate", variant=ETHYL_ACETATE
    )
    give_variant_to_student(
        actor=instructor, work=classmates_work, variant=variant, reason="no ethers"
    )
    move_students(
        actor=instructor,
        assignment=assignment,
        revision=changed,
        works=[submitted_work],
        reason="a slip in the amounts",
    )
    draft = start_draft(
        actor=instructor, course=course, document=revision.document, base=changed
    )
    return [
        url_of("list-prep-sheets", course),
        url_of("show-prep-sheet", assignment),
        url_of("show-exercise", revision),
        url_of("add-variant", revision),
        url_of("show-variant", variant),
        url_of("give-variant", assignment),
        url_of("compare-revisions", changed),
        url_of("compare-draft", draft),
        url_of("move-students", assignment),
        url_of("copy-course", course),
    ]


def test_the_pages_fit_and_break_no_accessibility_rule(new_page, pages, assignment, instructor):
    page = new_page(instructor)
    page.set_default_timeout(30_000)
    for path in pages:
        page.goto(path)
        assert_accessible(page)
    page.goto(url_of("move-students", assignment))
    page.locator("[name=works]").first.check()
    page.get_by_role("button", name="Look what would change").click()
    page.get_by_role("heading", name="What would change").wait_for()
    assert_accessible(page)


def test_a_variant_is_made_and_given_by_keyboard_without_script(
    new_page, revision, assignment, work, instructor
):
    page = new_page(instructor, java_script_enabled=False)
    page.set_default_timeout(30_000)
    page.goto(reverse("add-variant", args=[revision.public_id]))
    page.get_by_label("Name").press_sequentially("Half scale")
    scale = page.get_by_label("Scale")
    scale.press("Control+a")
    scale.press_sequentially("0.5")
    page.get_by_role("button", name="Make it").press("Enter")
    page.get_by_role("heading", name="Half scale").wait_for()
    page.get_by_role("link", name="Tuesday A: to the section").press("Enter")
    page.get_by_label("Form of the exercise").first.select_option(label="Half scale")
    page.get_by_role("button", name="Give it to the section").press("Enter")
    page.get_by_text("One student has it now.").wait_for()
    work.refresh_from_db()
    assert work.variant == ExerciseVariant.objects.get()
