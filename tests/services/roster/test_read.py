"""Roster text to rows: what is accepted, and which line and column an error names."""

import pytest

from workups.models import Role
from workups.services.roster.read import (
    MAX_ROWS,
    RosterUnreadable,
    decode_roster,
    read_roster,
)

HEADING = "name,sign_in,email,role,section,outside_id\n"


def rows_of(text):
    roster = read_roster(text)
    assert roster.errors == ()
    return roster.rows


def errors_of(lines):
    return [(e.line, e.column, e.message) for e in read_roster(HEADING + lines).errors]


def test_a_full_line_becomes_a_row():
    (row,) = rows_of(HEADING + "Zoë Ångström, ZOE ,z@LARKMOOR.example,TA,A; B,88-1\n")
    assert (row.line, row.name, row.sign_in) == (2, "Zoë Ångström", "zoe")
    assert row.email == "z@larkmoor.example"
    assert row.role == Role.TA
    assert row.section_names == ("A", "B")
    assert row.outside_id == "88-1"


@pytest.mark.parametrize(
    "name", ["李 雷", "محمد الفارسي", "Ольга Ильина", "सुनीता राव", "O'Brien, Jr.", "Ng"]
)
def test_names_are_kept_in_any_script(name):
    quoted = f'"{name}"' if "," in name else name
    assert rows_of(f"{HEADING}{quoted},x,,,A,\n")[0].name == name


def test_two_spellings_of_one_letter_are_one_name():
    decomposed, composed = "Zoe\u0308", "Zo\u00eb"
    assert rows_of(f"{HEADING}{decomposed},x,,,A,\n")[0].name == composed


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_the_delimiters_and_line_ends_of_common_programs(delimiter, newline):
    lines = [["name", "sign_in", "section"], ["Ines Vale", "ines", "A"]]
    text = newline.join(delimiter.join(line) for line in lines)
    assert rows_of(text)[0].section_names == ("A",)


def test_columns_come_in_any_order_and_spelling():
    (row,) = rows_of("Section,Sign-in,NAME\nA,ines,Ines Vale\n".replace("Sign-in", "Sign in"))
    assert (row.name, row.sign_in, row.section_names) == ("Ines Vale", "ines", ("A",))


def test_blank_lines_count_but_say_nothing():
    rows = rows_of(HEADING + "\n,,,,,\nInes,ines,,,A,\n")
    assert [row.line for row in rows] == [4]


def test_a_line_after_a_name_with_a_line_break_keeps_its_own_number():
    errors = errors_of('"Ines\nVale",ines,,,A,\nBad,,,,A,\n')
    assert errors == [(4, "sign_in", "This field is empty.")]


@pytest.mark.parametrize(
    ("line", "column", "message"),
    [
        (",ines,,,A,", "name", "This field is empty."),
        ("Ines,,,,A,", "sign_in", "This field is empty."),
        ("Ines,in es,,,A,", "sign_in", "A sign-in name has no blanks"),
        ("Ines,in\u200bes,,,A,", "sign_in", "invisible characters"),
        ("Ines,ines,nowhere,,A,", "email", "nowhere is not an e-mail address."),
        ("Ines,ines,,boss,A,", "role", "boss is not a role"),
        ("Ines,ines,,student,,", "section", "exactly one section"),
        ("Ines,ines,,student,A;B,", "section", "exactly one section"),
        ("Ines,ines,,instructor,A,", "section", "Only students and TAs have sections"),
        ("Ines,ines,,ta," + "s" * 61 + ",", "section", "at most 60 characters"),
        ("n" * 201 + ",ines,,,A,", "name", "more than 200 characters"),
        ("Ines,ines,,,A,,surplus", "", "7 fields, the first line names 6 columns"),
    ],
)
def test_an_error_names_its_line_and_column(line, column, message):
    ((found_line, found_column, found_message),) = errors_of(line + "\n")
    assert (found_line, found_column) == (2, column)
    assert message in found_message


def test_every_mistake_of_a_line_is_told_at_once():
    assert [column for _, column, _ in errors_of(",x y,bad,boss,A,\n")] == [
        "name",
        "sign_in",
        "email",
        "role",
    ]


def test_a_sign_in_name_twice_names_the_earlier_line():
    errors = errors_of("Ines,ines,,,A,\nMax,max,,,A,\nInes V,INES,,,B,\n")
    assert errors == [(4, "sign_in", "ines stands in line 2 already.")]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "is empty"),
        ("\n\n", "is empty"),
        ("name,email\nx,y\n", "does not name the column sign_in"),
        ("name,sign_in,shoe_size\n", "not known: shoe_size"),
        ("name,sign_in,name\n", "twice: name"),
        ('name,sign_in\n"Ines,ines\n', "quotation mark"),
        ("name,sign_in\0\n", "not a text file"),
        (HEADING + "x" * 1_000_000, "larger than 1000 kB"),
        (HEADING + "Ines,ines,,,A,\n" * (MAX_ROWS + 1), "more than 3000 lines"),
    ],
)
def test_a_roster_that_cannot_be_read_as_a_whole_says_why(text, message):
    with pytest.raises(RosterUnreadable, match=message):
        read_roster(text)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_the_encodings_of_common_programs(encoding):
    assert decode_roster("name,sign_in\n李 雷,x\n".encode(encoding)).startswith("name")


def test_another_encoding_names_the_line_where_it_shows():
    with pytest.raises(RosterUnreadable, match="Line 3 has characters that are not UTF-8"):
        decode_roster("name,sign_in\nA,a\nJosé,jose\n".encode("latin-1"))


def test_a_quotation_mark_that_is_not_closed_names_the_line_where_it_opens():
    """The reader notices at the next quotation mark, or at the end of the file."""
    lines = "Ines,ines,,,A,\n\"Bob,bob,,,A,\nCai,cai,,,A,\n"
    for more in ("", '"Dee, Jr.",dee,,,A,\n'):
        with pytest.raises(RosterUnreadable, match="Line 3 cannot be read"):
            read_roster(HEADING + lines + more)


def test_two_people_cannot_have_one_identifier_in_the_gradebook():
    found = errors_of("Ines,ines,,,A,77\nBob,bob,,,A,\nCai,cai,,,A,77\nDee,dee,,,A,\n")
    assert found == [(4, "outside_id", "77 stands in line 2 already, for somebody else.")]
