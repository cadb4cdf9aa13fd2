"""How this is computed, with the numbers of one exercise."""

import pytest
from django.urls import reverse

from workups.documents import library_text
from workups.services.drafts import start_draft

pytestmark = pytest.mark.usefixtures("few_draws")


def test_the_equations_have_the_exercises_own_numbers_and_every_constant_its_source(
    sign_in, instructor, ta, revision
):
    for person in (instructor, ta):
        url = reverse("show-exercise-method", args=[revision.public_id])
        page = sign_in(person).get(url).content.decode().replace("\u00a0", " ")
        for text in (
            "n = m w / M",
            "n = 5.11 g / 102.18 g/mol = 50.0 mmol",
            "1-hexanol limits",
            "10^(pH − pKa)",
            "from memory: check",
            "IUPAC Digitized pKa Dataset",
        ):
            assert text in page, text


def test_a_draft_has_the_page_once_it_can_be_read(sign_in, instructor, course):
    text = library_text("too-much-vinegar")
    client = sign_in(instructor)
    good = start_draft(actor=instructor, course=course, document=text)
    url = reverse("show-draft-method", args=[good.public_id])
    assert "n = 5.11" in client.get(url).content.decode()
    bad = start_draft(
        actor=instructor, course=course, document=text.replace("mass_g = 5.11", "mass_g = -1")
    )
    url = reverse("show-draft-method", args=[bad.public_id])
    assert client.get(url).url == reverse("preview-draft", args=[bad.public_id])
