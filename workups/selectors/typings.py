"""Where the typing-in of a printed sheet stands, and where two typings differ."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from workups.models import BenchRecord, SheetTyping


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


def differing(names: Iterable[str], one: Mapping[str, Any], two: Mapping[str, Any]) -> list[str]:
    """The fields that were typed in two ways; 45,30 and 45.30 are one way, 45.3 is another."""
    return [name for name in names if _same_way(one.get(name)) != _same_way(two.get(name))]


def _same_way(typed: Any) -> Any:
    if isinstance(typed, list):
        return sorted(typed)
    return " ".join(str(typed or "").casefold().replace(",", ".").split())
