"""How a field is declared: once, in the dataclass it belongs to.

A field of an exercise, a plan or a bench record carries in its metadata what its type does not
say: what it is called, what it is, its unit, bounds and choices. Files, their schema, the forms,
the sentences on what two exercises differ in, and what the database takes are made from that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import Field, dataclass
from decimal import Decimal
from typing import Any

MAX_STEPS = 60
MAX_ITEMS = 200
KEY_LENGTH = 60
FLASK_LENGTH = 60
LINE_LENGTH = 300
NOTE_LENGTH = 2_000
PROSE_LENGTH = 20_000

ID_PATTERN = r"[A-Za-z0-9_-]+"
ID_WORDS = "a name of letters, digits, - and _"


@dataclass(frozen=True)
class Declared:
    """What a field says of itself.

    ``label`` names it in forms; ``help`` says in the file's schema what it is (no full stop), and
    in forms too, unless ``hint`` has other words for them; ``seldom``: forms ask for it apart.
    ``low`` and ``high`` in ``unit``. ``choices`` are the words it may take, ``words`` how forms say
    them. ``role`` names the table its value must be in, ``pattern`` what it must look like, which
    ``says`` puts in words; ``filled``: not blank; ``lines``: more than one line may be written.
    A table has ``key_role`` or ``key_choices`` (key to title) for its keys. ``written`` is the key
    in files where it is not the name; a ``flat`` dataclass is written among the keys of the one
    that holds it.
    """

    label: str = ""
    help: str = ""
    hint: str | None = None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    words: Mapping[str, str] | None = None
    role: str = ""
    pattern: str = ""
    says: str = ""
    filled: bool = False
    lines: bool = True
    max_length: int = NOTE_LENGTH
    max_items: int = MAX_ITEMS
    key_role: str = ""
    key_choices: Mapping[str, str] | None = None
    written: str = ""
    flat: bool = False
    seldom: bool = False


def within(value: float | Decimal, low: float | None, high: float | None) -> bool:
    """Whether a value is between two bounds, where they are given.

    >>> within(3, 0, None), within(3, None, 2.5)
    (True, False)
    """
    return (low is None or value >= low) and (high is None or value <= high)


Metadata = Mapping[str, Any]


def declared(label: str = "", help: str = "", hint: str | None = None, **more: Any) -> Metadata:
    """The metadata of a field."""
    return {"spec": Declared(label, help, hint, **more)}


def line(label: str = "", help: str = "", **more: Any) -> Metadata:
    """Of a text on one line."""
    return declared(label, help, **{"lines": False, "max_length": LINE_LENGTH, **more})


def identifier(label: str = "", help: str = "", **more: Any) -> Metadata:
    """Of a name that files use."""
    return line(label, help, **{"filled": True, "max_length": KEY_LENGTH, **more})


def prose(label: str = "", help: str = "", **more: Any) -> Metadata:
    """Of a long text in paragraphs."""
    return declared(label, help, max_length=PROSE_LENGTH, **more)


def one_of(label: str, help: str, choices: tuple[str, ...] | Mapping[str, str],
           **more: Any) -> Metadata:
    """Of one of some words; a mapping has beside each how forms say it."""
    words = choices if isinstance(choices, Mapping) else None
    return identifier(label, help, choices=tuple(choices), words=words, **{"filled": False, **more})


def of_field(field: Field[Any]) -> Declared:
    """What a field of a dataclass says of itself; nothing where it is not declared."""
    spec: Declared = field.metadata.get("spec", _NOTHING)
    return spec


def spec_of(kind: type[Any], name: str) -> Declared:
    """What one field of a dataclass says of itself."""
    return of_field(kind.__dataclass_fields__[name])


_NOTHING = Declared()
