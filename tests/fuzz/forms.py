"""The forms of the pages as a browser reads them, and hostile ways to fill them in."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import strategies as st

from workups.documents import library_text

HOSTILE = (
    "",
    " ",
    "\x00",
    "a\x00b",
    "\u202e\ufeff\U0001f9ea",
    "\ud7ff\u2028",
    "0",
    "-1",
    "1e999",
    "NaN",
    "Infinity",
    "٣٫٥",
    "1,5",
    "9" * 40,
    "-" + "9" * 400,
    "0.0000000000000000001",
    "x" * 5000,
    "<script>alert(1)</script>",
    "{{ 7 }}{% debug %}",
    "'; DROP TABLE workups_work; --",
    "=1+1",
    "../../../../etc/passwd",
    "9999-99-99T99:99",
    "0001-01-01T00:00",
    "9999-12-31T23:59",
    "00000000-0000-0000-0000-000000000000",
    "{}",
    "[[[[",
    "waste",
    "reaction flask",
    "organic layer",
    "upper",
    "hexyl_acetate",
    "45.30",
)
FILES = (
    b"",
    b"\x00\xff\xfe",
    b"\xef\xbb\xbfname,sign_in\n",
    b"a,b\n" * 2000,
    b'"' * 2000,
    "name,identifier,role,section\nÅsa Öhman,asa,student,A\n".encode(),
    b"\x1f\x8b\x08" + b"\x00" * 200,
    b"%PDF-1.7",
    b"x" * 1_200_000,
    library_text("too-much-vinegar").encode(),
    library_text("too-much-vinegar").encode()[:4000],
)
NAMES = ("roster.csv", "x" * 250 + ".toml", "../../x.csv", "a\x00b.csv", "", "é.toml")


@dataclass
class Field:
    """A control: its name, whether it takes a file, the values that the page offers, and what its
    attributes say of what may be typed."""

    name: str
    is_file: bool = False
    offered: list[str] = field(default_factory=list)
    said: dict[str, str] = field(default_factory=dict)


@dataclass
class Form:
    """Where a form goes, how, its controls, and what its own attributes say."""

    url: str
    method: str
    fields: dict[str, Field] = field(default_factory=dict)
    said: dict[str, str] = field(default_factory=dict)


class FormReader(HTMLParser):
    """Collects the forms of a page; controls outside one are left out."""

    def __init__(self, url: str) -> None:
        super().__init__()
        self.url = url
        self.forms: list[Form] = []
        self._form: Form | None = None
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            method = given.get("method", "get").lower()
            self._form = Form(given.get("action") or self.url, method, said=given)
            self.forms.append(self._form)
        elif self._form is not None and tag in ("input", "textarea", "select", "button"):
            self._add(tag, given)
        elif self._form is not None and tag == "option" and self._select:
            self._form.fields[self._select].offered.append(given.get("value", ""))

    def _add(self, tag: str, given: dict[str, str]) -> None:
        name = given.get("name", "")
        self._select = name if tag == "select" else ""
        if not name or self._form is None:
            return
        control = self._form.fields.setdefault(name, Field(name))
        control.said |= given
        control.is_file = control.is_file or given.get("type") == "file"
        if tag in ("input", "button"):
            control.offered.append(given.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None


def forms_of(url: str, text: str) -> list[Form]:
    reader = FormReader(url)
    reader.feed(text)
    return [form for form in reader.forms if "sign-out" not in form.url]


def filled_in(form: Form) -> st.SearchStrategy[dict[str, Any]]:
    """The form with each control left out, as offered, hostile, or random."""
    ways = {name: value_of(control) for name, control in form.fields.items()}
    return st.fixed_dictionaries({}, optional=ways)


def value_of(control: Field) -> st.SearchStrategy[Any]:
    if control.is_file:
        return st.builds(make_file, st.sampled_from(NAMES), contents())
    offered = control.offered or [""]
    one = st.one_of(
        st.sampled_from(offered), st.sampled_from(offered), st.sampled_from(HOSTILE), random_text()
    )
    return st.one_of(one, one, one, st.lists(one, max_size=4))


def random_text() -> st.SearchStrategy[str]:
    """Any text that can be sent: UTF-8 has no lone surrogates."""
    return st.text(st.characters(codec="utf-8"), max_size=60)


def contents() -> st.SearchStrategy[bytes]:
    return st.one_of(st.sampled_from(FILES), st.binary(max_size=400))


def make_file(name: str, content: bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile(name or "unnamed", content)
