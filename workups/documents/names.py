"""The names a document may use for substances and materials, taken from the tables."""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from workups.chemistry.called import meant
from workups.chemistry.tables import tables
from workups.exercise.exercise import Exercise

_LONGEST_WORTH_A_GUESS = 80
# Of two names' letters, the share that must agree: "acetyl chloride" is not calcium chloride.
_ALIKE = 0.75


@dataclass(frozen=True)
class KnownNames:
    """Keys by what they are; ``solutions`` holds an exercise's own materials too."""

    substances: frozenset[str]
    ions: frozenset[str]
    solvents: frozenset[str]
    solutions: frozenset[str]
    agents: frozenset[str]
    salts: frozenset[str] = frozenset()

    @property
    def reagents(self) -> frozenset[str]:
        """What can be charged or made: substances, salts and ions."""
        return self.substances | self.salts | self.ions

    def with_own(self, solutions: Iterable[str], substances: Iterable[str] = ()) -> KnownNames:
        """The same names and the solutions and substances an exercise defines for itself."""
        return dataclasses.replace(self, solutions=self.solutions | frozenset(solutions),
                                   substances=self.substances | frozenset(substances))

    def __contains__(self, key: object) -> bool:
        return key in self.reagents | self.solvents | self.solutions | self.agents

    def of_role(self, role: str) -> frozenset[str]:
        """The names that fit a role; a field that asks for a solvent takes any liquid."""
        liquids = self.solvents | self.solutions
        return {
            "substance": self.substances,
            "reagent": self.reagents,
            "component": self.substances | self.ions,
            "liquid": liquids,
            "solvent": liquids,
            "extraction solvent": self.solvents,
            "agent": self.agents,
            "material": liquids | self.agents,
        }[role]


ROLE_TITLES = {
    "substance": "a substance of the tables",
    "reagent": "a substance, salt or ion of the tables",
    "component": "a substance or ion of the tables",
    "liquid": "a solvent or solution",
    "solvent": "a solvent or solution",
    "extraction solvent": "an extraction solvent of the tables",
    "agent": "a drying agent",
    "material": "a solvent, solution or drying agent",
}


@lru_cache(maxsize=1)
def known_names() -> KnownNames:
    """All names of the tables."""
    known = tables()
    return KnownNames(
        frozenset(known.substances),
        frozenset(known.ions),
        frozenset(known.solvents),
        frozenset(known.solutions),
        frozenset(known.agents),
        frozenset(known.salts),
    )


def names_for(exercise: Exercise | None) -> KnownNames:
    """The names that documents of an exercise may use: those of the tables and its own."""
    names = known_names()
    return names if exercise is None else names.with_own(
        (m.key for m in exercise.setup.own_materials),
        (s.key for s in exercise.setup.own_substances))


def nearest(name: str, names: Iterable[str]) -> str:
    """The name that is meant, else the one that looks most like this one; empty for neither.

    What the tables know as something else is not taken for a slip of the pen: ether is not water.
    """
    if len(name) > _LONGEST_WORTH_A_GUESS:
        return ""
    folded = {n.casefold(): n for n in sorted(names)}
    typed = name.casefold()
    begun = [n for n in folded if name and n.startswith(typed)]
    if typed in folded or len(begun) == 1:
        return folded[typed if typed in folded else begun[0]]
    known = meant(name, folded.values())
    if known is not None:
        return known
    found = difflib.get_close_matches(typed, folded, n=1, cutoff=_ALIKE)
    return folded[found[0]] if found else ""


def hint(name: str, names: Iterable[str]) -> str:
    """`` (did you mean …?)`` or nothing, to end a message with."""
    close = nearest(name, names)
    return f' (did you mean "{close}"?)' if close else ""
