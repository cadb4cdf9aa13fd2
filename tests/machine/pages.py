"""Pages as a person meets them: forms with what a browser would send, and what is said on top."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any, NamedTuple

from django.http import HttpResponse

from tests.web.walker import is_html, name_of

Values = dict[str, list[str]]
CHOSEN = ("radio", "checkbox")
TYPED = ("text", "number", "datetime-local", "textarea", "email", "search")


class Button(NamedTuple):
    """What it adds to its form."""

    name: str
    value: str

    def does(self, what: str) -> bool:
        """Whether it is one of a plan's: a verb, and mostly the step that it is about."""
        return self.name == "do" and self.value.partition(":")[0] == what


@dataclass
class Form:
    """A form: where it goes, its own attributes, what it would send as it stands.

    `offered` are the values of radio buttons, boxes and lists, `typed` the attributes of what one
    types into.
    """

    url: str
    said: dict[str, str]
    values: Values = field(default_factory=dict)
    offered: Values = field(default_factory=dict)
    typed: dict[str, dict[str, str]] = field(default_factory=dict)
    buttons: list[Button] = field(default_factory=list)

    @property
    def name(self) -> str:
        """Of the address that it is sent to."""
        return name_of(self.url)

    def filled(self, button: Button | None = None, **typed: Any) -> Values:
        """What is sent: as it stands, with these fields changed, by this button."""
        changed = {n: v if isinstance(v, list) else [str(v)] for n, v in typed.items()}
        pressed = {button.name: [button.value]} if button and button.name else {}
        return {**self.values, **changed, **pressed}


class _Reader(HTMLParser):
    def __init__(self, url: str) -> None:
        super().__init__()
        self.url = url
        self.forms: list[Form] = []
        self.errors: list[str] = []
        self._form: Form | None = None
        self._list = self._area = ""
        self._words: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        classes = given.get("class", "").split()
        if {"message--error", "message--warning", "form-errors"} & set(classes):
            self.errors.append(given["class"])
        if tag == "form":
            self._form = Form(given.get("action") or self.url, given)
            self.forms.append(self._form)
        elif self._form is not None:
            self._control(self._form, tag, given)

    def _control(self, form: Form, tag: str, given: dict[str, str]) -> None:
        name, value = given.get("name", ""), given.get("value", "")
        if tag == "button" and given.get("type") == "submit":
            form.buttons.append(Button(name, value))
            return
        if tag == "option" and self._list:
            form.offered[self._list].append(value)
            if "selected" in given or self._list not in form.values:
                form.values[self._list] = [value]
        if not name:
            return
        kind = given.get("type", "text") if tag == "input" else tag
        if kind in CHOSEN:
            form.offered.setdefault(name, []).append(value or "on")
            if "checked" in given:
                form.values.setdefault(name, []).append(value or "on")
        elif kind == "select":
            self._list = name
            form.offered[name] = []
        elif kind not in ("file", "button", "submit"):
            form.values[name] = [value]
            if kind in TYPED:
                form.typed[name] = given
            self._area = name if kind == "textarea" else ""

    def handle_data(self, data: str) -> None:
        if self._form is not None and self._area:
            self._form.values[self._area][0] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea" and self._form is not None and self._area:
            # A browser leaves out the line break that follows the tag.
            value = self._form.values[self._area]
            value[0] = value[0].removeprefix("\r\n").removeprefix("\n")
            self._area = ""
        elif tag == "select":
            self._list = ""
        elif tag == "form":
            self._form = None


@dataclass
class Page:
    """An answer, after redirects: status, text, forms, and whether it complains of anything."""

    url: str
    status: int
    text: str
    forms: list[Form]
    complaints: list[str]

    def forms_to(self, name: str) -> list[Form]:
        return [form for form in self.forms if form.name == name]

    def entries(self, kind: str) -> list[Form]:
        """The forms of the bench of one kind."""
        return [form for form in self.forms if form.said.get("data-entry") == kind]


def page_of(url: str, response: HttpResponse) -> Page:
    if response.streaming or not is_html(response):
        text = "" if response.streaming else response.content.decode(errors="replace")
        return Page(url, response.status_code, text, [], [])
    text = response.content.decode()
    reader = _Reader(url)
    reader.feed(text)
    return Page(url, response.status_code, text, reader.forms, reader.errors)
