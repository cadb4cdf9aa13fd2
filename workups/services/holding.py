"""Rows held until the transaction ends. Whoever compares what it then writes, holds the row first.

In the order of `ORDER`, and several of a kind by their keys (`hold_all`), so that no two wait for
each other; a row that is only written counts too. A row that others only refer to is not in their
way.
"""

from collections.abc import Iterable, Sequence
from typing import TypeVar

from django.db.models import ForeignKey, Model

from workups.services.refusals import Refused

ORDER = (
    "course", "exercisedraft", "section", "person", "exerciserevision", "exercisevariant",
    "enrolment", "work", "benchrecord", "review", "assignment",
)  # fmt: skip

_Row = TypeVar("_Row", bound=Model)


class RowIsGone(Refused):
    """What the page was about has been removed meanwhile."""


def hold(row: Model) -> None:
    """Nobody else changes the row until this transaction ends; its columns are read anew.

    Raises RowIsGone.
    """
    model = row._meta.model
    # Without the model's own order, which may join other tables: their rows would be held too.
    held = model._base_manager.select_for_update(no_key=True).order_by("pk")
    newest = held.filter(pk=row.pk).first()
    if newest is None:
        raise RowIsGone
    for field in model._meta.concrete_fields:
        value = getattr(newest, field.attname)
        if getattr(row, field.attname) == value:
            continue
        setattr(row, field.attname, value)
        if isinstance(field, ForeignKey) and field.is_cached(row):
            field.delete_cached_value(row)


def hold_all(rows: Iterable[_Row]) -> Sequence[_Row]:
    """The same for several of a kind, which are held by their keys' order; gives them as given."""
    given = list(rows)
    for row in sorted(given, key=lambda row: int(row.pk)):
        hold(row)
    return given
