"""The exercises that ship with the program."""

from functools import lru_cache
from importlib.resources import files

from workups.exercise.exercise import Exercise

from .errors import shown, single_problem
from .files import load_exercise
from .names import hint

_FOLDER = files("workups") / "library"


@lru_cache(maxsize=1)
def library_names() -> tuple[str, ...]:
    """Keys of the exercises in the library, in alphabetical order."""
    names = [f.name for f in _FOLDER.iterdir() if f.name.endswith(".toml")]
    return tuple(sorted(name.removesuffix(".toml") for name in names))


def library_text(name: str) -> str:
    """The file of a library exercise; raises DocumentError for a name that is not there."""
    if name not in library_names():
        listed = ", ".join(library_names()) or "empty"
        raise single_problem(f"the library has no exercise {shown(name)}"
                             f"{hint(name, library_names())}; it holds: {listed}")
    return (_FOLDER / f"{name}.toml").read_text(encoding="utf-8")


@lru_cache(maxsize=32)
def library_exercise(name: str) -> Exercise:
    """A library exercise; raises DocumentError for a name that is not there."""
    return load_exercise(library_text(name))
