"""The form and the text are two ways into one document, and neither loses what the other wrote."""

import copy

import pytest
from django.http import QueryDict
from hypothesis import HealthCheck, given, settings

from tests.documents.strategies import exercises
from tests.long import count
from workups.documents import dump_exercise, library_names, library_text
from workups.documents.pointers import value_at
from workups.documents.rewrite import rewrite, same
from workups.documents.toml_text import parse
from workups.web.authoring.form.asked import anchor_of
from workups.web.authoring.form.page import (
    close,
    groups_of,
    opened,
    put_texts,
    texts_in,
    texts_sent,
)
from workups.web.authoring.form.parts import PARTS
from workups.web.authoring.form.texts import Kind


def sent_unchanged(part, data):
    """What a browser sends when nobody has typed anything: CRLF in text areas, ticks as a list."""
    asked = [a for group in groups_of(part, data) for a in group.all_fields]
    sent = QueryDict(mutable=True)
    for a in asked:
        shown = texts_in([a], data)[a.name]
        if a.kind is Kind.MATERIALS:
            sent.setlist(a.name, sorted(shown))
            sent[f"{a.name}-asked"] = "yes"
        else:
            sent[a.name] = shown.replace("\n", "\r\n")
    return asked, sent


def through_every_part(text):
    data = parse(text)
    for part in PARTS:
        shown = opened(part, data)
        asked, sent = sent_unchanged(part, shown)
        put_texts(asked, texts_sent(asked, sent, shown), shown)
        close(part, shown)
        data = shown
    return rewrite(text, data)


@pytest.mark.parametrize("name", library_names())
def test_a_library_exercise_goes_through_the_form_unchanged(name):
    assert through_every_part(library_text(name)) == library_text(name)


@settings(
    max_examples=count(6, 500), deadline=None, suppress_health_check=list(HealthCheck)
)
@given(exercises())
def test_any_exercise_goes_through_the_form_unchanged(exercise):
    text = dump_exercise(exercise)
    assert through_every_part(text) == text


def test_two_places_never_share_a_name():
    names = [anchor_of(("values", key)) for key in ("a:b", "a/b", "a_b", "a.3a.b", "a-b")]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("name", library_names())
def test_one_changed_value_changes_one_line_of_the_text(name):
    text = library_text(name)
    data = parse(text)
    data["glassware"]["funnel_mL"] = 500
    before, after = text.split("\n"), rewrite(text, data).split("\n")
    assert len(before) == len(after)
    changed = [(b, a) for b, a in zip(before, after, strict=True) if b != a]
    assert [a for _, a in changed] == ["funnel_mL = 500"]


def test_a_rewritten_text_says_what_it_should_and_keeps_the_comments():
    text = library_text("too-much-vinegar")
    data = copy.deepcopy(parse(text))
    steps = data["model_plan"]["step"]
    steps.insert(1, {"verb": "cool", "id": "again", "flask": "reaction flask"})
    del steps[5]
    steps[2]["settle_min"] = 7.5
    data["reaction"]["reagent"][0]["mass_g"] = "five grams"
    data["texts"]["task"] = "Two lines,\nwith \"\"\" and \\ in them.\n"
    data["texts"]["cautions"].append("One more.")
    data["alternative"].pop()
    data["values"] = {"pKa1:acetic_acid": {"value": 4.76, "unit": "1"}}
    del data["texts"]["summary"]
    changed = rewrite(text, data)
    assert same(parse(changed), data)
    for comment in ("# Estimate: a class reaches", "# --- judging", "# 0.50 mL of the conc"):
        assert comment in changed


def test_text_that_is_no_number_stays_in_the_document_as_it_was_typed():
    data = parse(library_text("plain-ether"))
    part = next(p for p in PARTS if p.slug == "bench")
    asked, sent = sent_unchanged(part, data)
    sent["glassware-funnel_mL"] = "  two fifty "
    sent["glassware-balance_readability_g"] = "0,001"
    put_texts(asked, texts_sent(asked, sent, data), data)
    assert value_at(data, ("glassware", "funnel_mL")) == "two fifty"
    assert value_at(data, ("glassware", "balance_readability_g")) == 0.001
