"""Whatever a file holds, reading it ends soon, with a document or with a DocumentError."""

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workups.documents import (
    DocumentError,
    library_text,
    load_exercise,
    load_plan,
    load_readings,
    read_text,
    text_of,
)
from workups.documents.limits import MAX_BYTES

LOADERS = (load_exercise, load_plan, load_readings)
SECONDS = 5.0
HEAD = {load: f'document = "{name}"\nversion = 1\n'
        for load, name in zip(LOADERS, ("exercise", "plan", "readings"), strict=True)}


def ends_well(load, text):
    started = time.perf_counter()
    problems = ()
    try:
        load(text)
    except DocumentError as error:
        problems = error.problems or pytest.fail("an error without a problem")
    assert time.perf_counter() - started < SECONDS
    assert all("\n" not in str(p) and len(str(p)) < 1000 for p in problems)


@pytest.mark.parametrize("load", LOADERS, ids=lambda load: load.__name__)
@settings(max_examples=80, deadline=None)
@given(text=st.text(max_size=300))
def test_any_text_is_read_or_refused(load, text):
    ends_well(load, text)
    ends_well(load, HEAD[load] + text)


_scalars = st.one_of(st.sampled_from(["1", "-1", "1e400", "nan", "true", '""', '"x"', "[]", "{}",
                                      "1979-05-27", "07:32:00", "[[1], {a = 1}]", "0xffffff",
                                      '"""\nx"""', "[{verb = 1}]", '[{verb = "cool"}]']))
_keys = st.sampled_from(["step", "verb", "id", "target", "reaction", "materials", "key", "title",
                         "model_plan", "values", "setup", "volume", "drying", "priors", "rubric",
                         "own_material", "alternative", "reagents", "policy", "texts", "a.b"])
_statements = st.one_of(
    st.builds("{} = {}".format, _keys, _scalars), st.builds("[{}]".format, _keys),
    st.builds("[[{}]]".format, _keys), st.builds("[[{}.{}]]".format, _keys, _keys))


@pytest.mark.parametrize("load", LOADERS, ids=lambda load: load.__name__)
@settings(max_examples=150, deadline=None)
@given(statements=st.lists(_statements, max_size=12))
def test_keys_of_ours_with_values_of_any_type_are_read_or_refused(load, statements):
    ends_well(load, HEAD[load] + "\n".join(statements))


@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_a_damaged_library_exercise_is_read_or_refused(data):
    text = library_text("too-much-vinegar")
    at = data.draw(st.integers(0, len(text)))
    cut = data.draw(st.integers(0, 30))
    ends_well(load_exercise, text[:at] + data.draw(st.text(max_size=5)) + text[at + cut:])


_SIZE = MAX_BYTES - 100
MONSTERS = {
    "a key of many parts": "a." * (_SIZE // 2) + "a = 1",
    "a header of many parts": "[" + "a." * (_SIZE // 2 - 1) + "a]",
    "a quoted key of many parts": '"a".' * (_SIZE // 4) + '"a" = 1',
    "a spaced key of many parts": "a . " * (_SIZE // 4) + "a = 1",
    "keys just within the limit": "\n".join(
        ".".join(["a"] * 18) + f".k{n} = 1" for n in range(_SIZE // 48)),
    "lists in lists": "a = " + "[" * _SIZE,
    "tables in tables": "a = " + "{a = " * (_SIZE // 5),
    "a long list": "a = [" + "1, " * (_SIZE // 3) + "]",
    "a list of many lines": "a = [\n" + "1,\n" * (_SIZE // 3) + "]",
    "many headers": "\n".join(f"[a{n}]" for n in range(_SIZE // 9)),
    "many list items": "[[step]]\n" * (_SIZE // 9),
    "a long number": "a = " + "1" * _SIZE,
    "a long hexadecimal number": "version = 0x" + "f" * (_SIZE - 10),
    "a long word": "a" * _SIZE,
    "a long string": 'a = "' + "x" * (_SIZE - 10) + '"',
    "a string that never ends": 'a = """' + '"' * _SIZE,
    "quotes": '"' * _SIZE,
    "newlines": "\n" * _SIZE,
    "carriage returns": "\r" * _SIZE,
    "brackets": "[" * _SIZE,
    "dots": "." * _SIZE,
    "an unknown key of great length": '"' + "k" * (_SIZE - 10) + '" = 1',
    "a surrogate": "a = '\ud800'",
    "too large": "#" * (MAX_BYTES + 1),
}


@pytest.mark.parametrize("load", LOADERS, ids=lambda load: load.__name__)
@pytest.mark.parametrize("name", MONSTERS)
def test_monsters_are_refused_in_time(load, name):
    ends_well(load, MONSTERS[name])
    ends_well(load, HEAD[load] + MONSTERS[name])


def test_a_file_that_cannot_be_a_document_is_refused(tmp_path):
    large, binary, other = tmp_path / "large", tmp_path / "binary", tmp_path / "latin1"
    large.write_bytes(b"#" * (MAX_BYTES + 1))
    binary.write_bytes(b"\x89PNG\x00\x01")
    other.write_bytes("a = 1\n# °".encode("latin-1"))
    for path, said in ((tmp_path / "none", "no such file"), (tmp_path, "is a directory"),
                       (large, "too large: expected at most 200 kB"), (binary, "binary file"),
                       (other, "line 2: is not UTF-8 text")):
        with pytest.raises(DocumentError, match=said):
            read_text(path)


def test_a_byte_order_mark_is_no_part_of_the_text():
    assert text_of(b"\xef\xbb\xbfa = 1") == "a = 1"


@pytest.mark.parametrize("number", ["0x" + "f" * 5000, "9" * 4200, "9223372036854775808"])
def test_a_whole_number_that_nothing_can_show_is_a_problem_of_its_line(number):
    """Python writes no number of more than 4,300 digits, not even into an error message."""
    text = library_text("too-much-vinegar")
    at = text.index("funnel_mL = ") + len("funnel_mL = ")
    huge = text[:at] + number + "\n" + text[text.index("\n", at) + 1 :]
    with pytest.raises(DocumentError) as raised:
        load_exercise(huge)
    assert "too many digits" in str(raised.value)
    assert "funnel_mL" in str(raised.value)
