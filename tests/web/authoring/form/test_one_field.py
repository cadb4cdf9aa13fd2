"""What saving one field of the author form takes: reads of the text, questions to the database."""

import tomllib

import pytest
import tomlkit
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.web.authoring.form.test_parts import HTMX, draft, send, url_of  # noqa: F401
from workups.documents import rewrite as rewriting
from workups.documents import toml_text
from workups.services.drafts import change_draft

TRANSACTION = ("SAVEPOINT", "RELEASE", "BEGIN", "COMMIT")


@pytest.fixture
def read(monkeypatch):
    """The texts that are read as TOML, by whichever library, with nothing remembered before."""
    toml_text._read.cache_clear()
    rewriting._written.clear()
    texts = []
    for library, name in ((tomllib, "loads"), (tomlkit, "parse")):
        real = getattr(library, name)
        monkeypatch.setattr(
            library, name, lambda text, real=real: (texts.append(text), real(text))[1])
    return texts


@pytest.mark.parametrize(("part", "field", "typed"), [
    ("exercise", "title", ("One", "Two")),
    ("reaction", "reaction-reagent-1-mass_g", ("6", "7")),
    ("marking", "rubric-points-order", ("30", "35")),
])
def test_a_saved_field_reads_one_text_and_asks_six_questions(
    sign_in, instructor, draft, read, part, field, typed  # noqa: F811
):
    client = sign_in(instructor)
    client.get(url_of(draft, part))
    first, second = typed
    send(client, draft, part, headers=HTMX, **{field: first})
    old, new = draft.document, None
    read.clear()
    with CaptureQueriesContext(connection) as asked:
        answer = send(client, draft, part, headers=HTMX, **{field: second})
    draft.refresh_from_db()
    new = draft.document
    assert answer.status_code == 200
    assert new != old
    assert read == [new]
    said = [q["sql"] for q in asked if not q["sql"].startswith(TRANSACTION)]
    # `send` looks the draft up itself.
    assert len(said) - 1 <= 6, said


def test_the_first_field_after_a_page_is_read_for_its_comments_too(
    sign_in, instructor, draft, read  # noqa: F811
):
    client = sign_in(instructor)
    client.get(url_of(draft, "exercise"))
    before = draft.document
    read.clear()
    send(client, draft, "exercise", headers=HTMX, title="One")
    draft.refresh_from_db()
    assert read == [before, draft.document]


def test_who_saves_meanwhile_is_asked_about_and_nothing_is_lost(draft, instructor):  # noqa: F811
    seen = []

    def add(line):
        def change(current):
            seen.append(current.version)
            if len(seen) == 1:
                change_draft(actor=instructor, draft=draft, change=add("# theirs\n"))
            return current.document + line
        return change

    version, text = draft.version, draft.document
    saved = change_draft(actor=instructor, draft=draft, change=add("# mine\n"))
    assert seen == [version, version, version + 1]
    assert saved.document == f"{text}# theirs\n# mine\n"
    assert [s.document for s in draft.states.order_by("version")] == [text, f"{text}# theirs\n"]
    assert saved.version == version + 2
