"""The steps of a bench record as plain data: planned, added, and where one belongs."""

from typing import Any

from workups.documents import step_to_data
from workups.models import BenchRecord
from workups.selectors.bench import step_entries
from workups.selectors.bench_lines import steps_as_done


def planned_data(record: BenchRecord) -> list[dict[str, Any]]:
    """The planned steps, and added ones as they were added, as plain data."""
    planned = [step_to_data(step) for step in record.plan_revision.to_core().steps]
    added = [dict(e.data) for e in step_entries(record).values() if e.mark == "added"]
    return [*planned, *added]


def known_step(record: BenchRecord, steps: list[dict[str, Any]], step_id: str) -> str:
    """The step named if there is one, else the one done last."""
    return step_id if any(s["id"] == step_id for s in steps) else last_done(record)


def last_done(record: BenchRecord) -> str:
    """The step last said to be done, where an added step most likely belongs."""
    entries = step_entries(record)
    done = [s["id"] for s in steps_as_done(record) if s["id"] in entries]
    return done[-1] if done else ""


def steps_until(steps: list[dict[str, Any]], step_id: str) -> list[dict[str, Any]]:
    """The steps up to and with one; none where it is not there."""
    at = next((i for i, step in enumerate(steps) if step["id"] == step_id), -1)
    return steps[: at + 1]
