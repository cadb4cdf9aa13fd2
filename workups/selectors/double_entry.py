"""Where the double entry of a printed sheet stands, and where two typings differ."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from workups.chemistry.plan import STEP_KINDS
from workups.models import BenchRecord, SheetTyping
from workups.selectors.bench import step_entries


@dataclass(frozen=True)
class TypingState:
    """The typings since the sheet was last begun; `next_turn` is 0 when it is stored."""

    first: SheetTyping | None = None
    second: SheetTyping | None = None
    stored: SheetTyping | None = None

    @property
    def next_turn(self) -> int:
        if self.stored is not None:
            return 0
        if self.first is None:
            return 1
        return 2 if self.second is None else 3


def typing_state(record: BenchRecord) -> TypingState:
    state = TypingState()
    for row in SheetTyping.objects.filter(record=record).order_by("pk"):
        if row.turn == 1:
            state = TypingState(first=row)
        elif row.turn == 2:
            state = TypingState(state.first, row, row if row.stored else None)
        elif row.stored:
            state = TypingState(state.first, state.second, row)
    return state


@dataclass(frozen=True)
class AddedOnSheet:
    """A step that was added on the paper and is not in the record yet."""

    after: str
    verb: str
    text: str

    @property
    def title(self) -> str:
        return STEP_KINDS[self.verb].title


def added_on_sheet(record: BenchRecord) -> list[AddedOnSheet]:
    """Rows of added steps that were typed in and have no added step of that verb there."""
    stored = typing_state(record).stored
    if stored is None:
        return []
    there = [(e.after, e.data["verb"]) for e in step_entries(record).values() if e.mark == "added"]
    waiting = []
    for name in sorted(stored.data):
        row = name.removeprefix("added-verb--")
        verb = stored.data[name]
        if row == name or verb not in STEP_KINDS:
            continue
        after = str(stored.data.get(f"added-after--{row}") or "")
        if (after, verb) in there:
            there.remove((after, verb))
        else:
            waiting.append(AddedOnSheet(after, verb, str(stored.data[f"added-text--{row}"])))
    return waiting


def differing(names: Iterable[str], one: Mapping[str, Any], two: Mapping[str, Any]) -> list[str]:
    """The fields that were typed in two ways; 45,30 and 45.30 are one way, 45.3 is another."""
    return [name for name in names if _same_way(one.get(name)) != _same_way(two.get(name))]


def _same_way(typed: Any) -> Any:
    if isinstance(typed, list):
        return sorted(typed)
    return " ".join(str(typed or "").casefold().replace(",", ".").split())
