"""Sections stand where people look for them: in the week's order."""

import pytest

from workups.models import Section


@pytest.mark.parametrize(("name", "meets", "day"), [
    ("Monday", "Mon 13:00, room 214", 0),
    ("A", "Tuesdays and Thursdays, 9 to 12", 1),
    ("Wed pm", "", 2),
    ("Thursday", "room 216", 3),
    ("12", "Sat 8:00", 5),
    ("Sunny side", "monograph reading room", 7),
    ("B", "", 7),
])
def test_the_day_is_read_from_when_a_section_meets_or_else_its_name(
    name: str, meets: str, day: int
) -> None:
    assert Section(name=name, meets=meets).place_in_week == (day, name)


def test_days_come_in_the_order_of_the_week_and_not_of_the_alphabet() -> None:
    names = ["Friday", "Monday", "Thursday", "Tuesday", "Wednesday"]
    found = sorted((Section(name=n) for n in names), key=lambda s: s.place_in_week)
    assert [s.name for s in found] == ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday"]
