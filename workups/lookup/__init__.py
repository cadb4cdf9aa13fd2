"""Look-up of a substance by name, CAS number or structure, through large libraries.

Beside the core, not in it: the core stays standard library and numpy. The libraries
(``chemicals``, RDKit) take a second to load and are imported at the first look-up only, and only
``web`` imports this folder, inside a function. What comes back is plain values of the core's own
kind, each with unit, uncertainty, source and grade: ``Found`` (estimates marked, what is missing
named) or ``NotFound`` (why). ``structure_svg`` draws a structure; ``to_substance`` is the core's
record, ``own_substance`` the one that an exercise brings along, ``still_to_say`` what its author
has yet to add.

>>> from workups.lookup import look_up
>>> found = look_up("100-66-3")
>>> found.name, found.formula, found.values["log_kow"].grade
('anisole', 'C7H8O', 'A')
"""

from .found import Found, NotFound, to_substance
from .own import own_substance, still_to_say
from .structure import structure_svg
from .substance import look_up

__all__ = [
    "Found", "NotFound", "look_up", "own_substance", "still_to_say", "structure_svg",
    "to_substance",
]
