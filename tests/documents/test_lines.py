"""The lines of keys are found whatever the values look like."""

import pytest

from workups.documents.lines import key_lines, line_of

TEXT = '''\
# first
a = 1
b = """
c = 2
[not.a.header]
""" # c
list = [
    1, # ]
    "]",
    [2],
]
"quoted key" = { x = 1, y = [
    2 ] }
c.d = 'it''s'

[table]
e = """one line"""
[table."with.dots"]
f = "a \\" # no comment"

[[item]]
g = 1
[item.inner]
h = 2
[[item]]
g = 3
[[item.part]]
i = 4
[[item.part]]
i = 5
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("a",), 2), (("b",), 3), (("list",), 7), (("quoted key",), 12), (("c", "d"), 14),
        (("table",), 16), (("table", "e"), 17), (("table", "with.dots", "f"), 19),
        (("item", 1), 21), (("item", 1, "g"), 22), (("item", 1, "inner", "h"), 24),
        (("item", 2), 25), (("item", 2, "g"), 26), (("item", 2, "part", 1, "i"), 28),
        (("item", 2, "part", 2, "i"), 30),
    ])
def test_a_key_is_found_on_its_line(path, line):
    assert key_lines(TEXT.replace("'it''s'", "'its'"))[path] == line


def test_what_has_no_line_of_its_own_gets_that_of_the_table_around_it():
    lines = key_lines(TEXT)
    assert line_of(("item", 2, "missing"), lines) == 25
    assert line_of(("quoted key", "x"), lines) == 12
    assert line_of(("nowhere",), lines) == 0


def test_lines_inside_strings_and_lists_are_no_keys():
    found = key_lines(TEXT)
    assert ("c",) not in found
    assert ("not", "a", "header") not in found
