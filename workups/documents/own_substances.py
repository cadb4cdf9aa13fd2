"""The substances that an unfinished exercise brings along, as far as they can be read."""

from typing import Any

from workups.chemistry.substances import Substance, Tables
from workups.chemistry.tables import tables_with

from .decode import BAD, Decoder
from .pointers import items_at


def own_substances_in(data: Any) -> tuple[Substance, ...]:
    """Those of which every field can be read, whether or not their values make sense."""
    read = (Decoder(trusted=True).record(Substance, row, ()) for row in items_at(
        data, ("substance",)))
    return tuple(substance for substance in read if substance is not BAD)


def tables_in(data: Any) -> Tables:
    """The tables with them."""
    return tables_with(own_substances_in(data))
