"""The reagent table as a form, with and without JavaScript."""

from django.urls import reverse

from workups.models import ReagentTableEntry

RIGHT = {
    "molar_mass-1_hexanol": "102.18",
    "amount_mmol-1_hexanol": "50.0",
    "molar_mass-acetic_acid": "60.05",
    "amount_mmol-acetic_acid": "150",
    "limiting": "1_hexanol",
    "molar_mass-hexyl_acetate": "144.21",
    "theoretical_g-hexyl_acetate": "7.21",
}


def url_of(work):
    return reverse("fill-reagents", args=[work.public_id])


def test_right_answers_are_said_to_be_right(sign_in, student, work):
    page = sign_in(student).post(url_of(work), RIGHT, follow=True).content.decode()
    assert "7 of 7 answers right" in page


def test_wrong_answers_stay_with_a_word_on_each(sign_in, student, work):
    answers = {**RIGHT, "amount_mmol-1_hexanol": "0.05", "molar_mass-acetic_acid": "sixty"}
    page = sign_in(student).post(url_of(work), answers, follow=True).content.decode()
    assert 'value="0.05"' in page
    assert "1000 times too small" in page
    assert 'value="sixty"' in page
    assert "A number greater than zero" in page
    assert "5 of 7 answers right" in page


def test_a_live_check_renews_the_words_and_not_the_fields(sign_in, student, work):
    fragment = (
        sign_in(student)
        .post(url_of(work), {"molar_mass-1_hexanol": "100"}, headers={"HX-Request": "true"})
        .content.decode()
    )
    assert "<input" not in fragment
    assert 'id="id_molar_mass-1_hexanol_says"' in fragment
    assert "Too low" in fragment


def test_an_answer_too_long_to_be_one_is_kept_and_marked(sign_in, student, work):
    long = {"molar_mass-1_hexanol": "1" * 40}
    page = sign_in(student).post(url_of(work), long).content.decode()
    assert "1" * 40 in page
    assert "Not saved yet" in page
    assert not ReagentTableEntry.objects.exists()


def test_the_table_closes_when_the_bench_record_begins(sign_in, student, bench_work):
    client = sign_in(student)
    assert "The table is closed" in client.get(url_of(bench_work)).content.decode()
    page = client.post(url_of(bench_work), RIGHT, follow=True).content.decode()
    assert "The reagent table is closed" in page
    assert not ReagentTableEntry.objects.exists()


def test_what_was_not_sent_stays_as_it_was(sign_in, student, work):
    client = sign_in(student)
    client.post(url_of(work), RIGHT)
    for sent in ({}, {"molar_mass-1_hexanol": "100"}):
        client.post(url_of(work), sent)
    entry = ReagentTableEntry.objects.get(work=work, substance="1_hexanol")
    assert (entry.molar_mass, entry.amount_mmol, entry.limiting) == ("100", "50.0", True)
    assert ReagentTableEntry.objects.get(substance="hexyl_acetate").theoretical_g == "7.21"
