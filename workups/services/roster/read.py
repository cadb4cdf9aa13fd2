"""From the text of a roster file to rows. Knows nothing of who is enrolled already."""

import csv
import io
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from workups.models import Person, Role, normalise_sign_in
from workups.models.people import validate_sign_in
from workups.services.refusals import Refused

COLUMNS = ("name", "sign_in", "email", "role", "section", "outside_id")
REQUIRED_COLUMNS = ("name", "sign_in")
MAX_BYTES = 1_000_000
MAX_ROWS = 3000
MAX_LENGTHS = {"name": 200, "sign_in": 150, "email": 254, "section": 600, "outside_id": 200}
MAX_SECTION_NAME = 60

ROLE_WORDS = {
    "": Role.STUDENT,
    "student": Role.STUDENT,
    "ta": Role.TA,
    "teaching assistant": Role.TA,
    "instructor": Role.INSTRUCTOR,
    "stockroom": Role.STOCKROOM,
}


class RosterUnreadable(Refused):
    """The file as a whole cannot be read; the message says why and what to do."""


@dataclass(frozen=True)
class RosterError:
    """Something wrong in one line of the file. Lines count from 1, the heading included."""

    line: int
    column: str
    message: str


@dataclass(frozen=True)
class RosterRow:
    line: int
    name: str
    sign_in: str
    email: str
    role: Role
    section_names: tuple[str, ...]
    outside_id: str


@dataclass(frozen=True)
class RosterFile:
    rows: tuple[RosterRow, ...]
    errors: tuple[RosterError, ...]


def decode_roster(content: bytes) -> str:
    """The text of an uploaded file: UTF-8, or UTF-16 with its byte order mark."""
    if len(content) > MAX_BYTES:
        raise RosterUnreadable(f"The file is larger than {MAX_BYTES // 1000} kB.")
    encoding = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise RosterUnreadable(
            f"Line {line} has characters that are not UTF-8. "
            'Save the file again as "CSV UTF-8" and choose it anew.'
        ) from error


def read_roster(text: str) -> RosterFile:
    """The rows that can be used and the errors of those that cannot."""
    text = text.removeprefix("\ufeff")
    if len(text.encode()) > MAX_BYTES:
        raise RosterUnreadable(f"The roster is larger than {MAX_BYTES // 1000} kB.")
    if "\0" in text:
        raise RosterUnreadable("This is not a text file. Save the roster as CSV.")
    records = read_records(text)
    first = next(records, None)
    if first is None:
        raise RosterUnreadable("The roster is empty. Its first line names the columns.")
    positions = find_columns(first[1])
    rows: list[RosterRow] = []
    errors: list[RosterError] = []
    lines_by_sign_in: dict[str, int] = {}
    lines_by_outside_id: dict[str, int] = {}
    for count, (line, cells) in enumerate(records, start=1):
        if count > MAX_ROWS:
            raise RosterUnreadable(f"The roster has more than {MAX_ROWS} lines. Split it.")
        row, row_errors = read_row(line, cells, positions, len(first[1]))
        errors += row_errors
        if row is None:
            continue
        earlier = lines_by_sign_in.setdefault(row.sign_in, line)
        if earlier != line:
            message = f"{row.sign_in} stands in line {earlier} already."
            errors.append(RosterError(line, "sign_in", message))
            continue
        rows.append(row)
        earlier = lines_by_outside_id.setdefault(row.outside_id, line) if row.outside_id else line
        if earlier != line:
            message = f"{row.outside_id} stands in line {earlier} already, for somebody else."
            errors.append(RosterError(line, "outside_id", message))
    return RosterFile(tuple(rows), tuple(errors))


def read_records(text: str) -> Iterator[tuple[int, list[str]]]:
    """Each line that is not blank, with the number of its first line in the file."""
    heading = text.lstrip().split("\n", 1)[0]
    delimiter = max(",;\t", key=heading.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield line, cells
            line = reader.line_num + 1
    except csv.Error as error:
        raise RosterUnreadable(
            f"Line {line} cannot be read as CSV: a quotation mark is not closed "
            "or stands inside a field without being doubled."
        ) from error


def find_columns(heading: list[str]) -> dict[str, int]:
    """Where each column stands."""
    names = [cell.strip().casefold().replace(" ", "_").replace("-", "_") for cell in heading]
    unknown = [name for name in names if name and name not in COLUMNS]
    missing = [name for name in REQUIRED_COLUMNS if name not in names]
    if missing:
        raise RosterUnreadable(
            f"The first line does not name the column {' and '.join(missing)}. "
            f"Columns: {', '.join(COLUMNS)}; the first two are required."
        )
    if unknown:
        raise RosterUnreadable(
            f"The first line names a column that is not known: {', '.join(unknown)}. "
            f"Columns: {', '.join(COLUMNS)}."
        )
    repeated = sorted({name for name in names if name and names.count(name) > 1})
    if repeated:
        raise RosterUnreadable(f"The first line names a column twice: {', '.join(repeated)}.")
    return {name: names.index(name) for name in COLUMNS if name in names}


def read_row(
    line: int, cells: list[str], positions: dict[str, int], width: int
) -> tuple[RosterRow | None, list[RosterError]]:
    if len(cells) > width and any(cell.strip() for cell in cells[width:]):
        message = f"This line has {len(cells)} fields, the first line names {width} columns."
        return None, [RosterError(line, "", message)]
    values = dict.fromkeys(COLUMNS, "")
    for name, position in positions.items():
        if position < len(cells):
            values[name] = unicodedata.normalize("NFC", " ".join(cells[position].split()))
    errors = [RosterError(line, column, message) for column, message in find_mistakes(values)]
    if errors:
        return None, errors
    row = RosterRow(
        line=line,
        name=values["name"],
        sign_in=normalise_sign_in(values["sign_in"]),
        email=Person.objects.normalize_email(values["email"]),
        role=ROLE_WORDS[values["role"].casefold()],
        section_names=split_sections(values["section"]),
        outside_id=values["outside_id"],
    )
    return row, []


def find_mistakes(values: dict[str, str]) -> Iterator[tuple[str, str]]:
    """(column, what is wrong) for one line."""
    for column in REQUIRED_COLUMNS:
        if not values[column]:
            yield column, "This field is empty."
    for column, length in MAX_LENGTHS.items():
        if len(values[column]) > length:
            yield column, f"This field has more than {length} characters."
    try:
        validate_sign_in(normalise_sign_in(values["sign_in"]))
    except ValidationError as error:
        yield "sign_in", error.messages[0]
    if values["email"]:
        try:
            validate_email(values["email"])
        except ValidationError:
            yield "email", f"{values['email']} is not an e-mail address."
    role = ROLE_WORDS.get(values["role"].casefold())
    if role is None:
        yield "role", f"{values['role']} is not a role: student, TA, instructor or stockroom."
    else:
        yield from find_section_mistakes(role, split_sections(values["section"]))


def find_section_mistakes(role: Role, names: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    if role == Role.STUDENT and len(names) != 1:
        yield "section", "A student is in exactly one section."
    if role in (Role.INSTRUCTOR, Role.STOCKROOM) and names:
        yield "section", "Only students and TAs have sections; leave this empty."
    if any(len(name) > MAX_SECTION_NAME for name in names):
        yield "section", f"A section's name has at most {MAX_SECTION_NAME} characters."


def split_sections(text: str) -> tuple[str, ...]:
    """A TA's sections, separated by ; or |, each once."""
    names = [name.strip() for name in text.replace("|", ";").split(";")]
    return tuple(dict.fromkeys(name for name in names if name))
