"""The panel beside the author form."""

from collections.abc import Iterable, Iterator
from typing import Any

from workups.documents import Problem
from workups.selectors.model_preview import ModelPreview
from workups.sheets.curve import recovery_figure
from workups.sheets.scheme import scheme_figure
from workups.web.authoring.form.live import DRAWS, LiveModel
from workups.web.authoring.form.parts import Part
from workups.web.authoring.form.progress import is_missing, part_for
from workups.web.authoring.form.said import plain_words
from workups.words.material_facts import substance_name
from workups.words.numbers import rounded


def blocking_lines(problems: Iterable[Problem]) -> Iterator[tuple[Part, str]]:
    """What keeps an exercise from being published: a part, and what is to be done there."""
    waiting: set[Part] = set()
    for problem in problems:
        part = part_for(problem.where)
        if not is_missing(problem):
            yield part, plain_words(problem.message)
        elif part not in waiting:
            waiting.add(part)
            yield part, "something is still to be filled in."


def values_to_check(preview: ModelPreview) -> list[str]:
    """The values from memory that the targets' own numbers rest on, in words."""
    setup = preview.exercise.setup
    targets = {substance_name(t.substance, setup.tables) for t in setup.targets}
    return [
        f"{value.what} of {value.of}, {value.shown}"
        for value in preview.unchecked_values
        if value.of in targets and value.quantity.grade == "B"
    ]


def panel_context(live: LiveModel) -> dict[str, Any]:
    """What `_panel.html` shows."""
    context: dict[str, Any] = {
        "live": live,
        "draws": DRAWS,
        "blocking": list(blocking_lines(live.problems)),
        "to_mend": any(not is_missing(p) for p in live.problems),
    }
    if live.preview is None or live.exercise is None or live.assessment is None:
        return context
    plan, steps = live.exercise.model_plan, live.assessment.steps
    return context | {
        "exercise": live.exercise,
        "model": live.preview,
        "from_memory": values_to_check(live.preview),
        "curves": [recovery_figure(e) for e in live.assessment.expected if e.same_total],
        "scheme": scheme_figure(live.exercise, plan, steps, shares_only=False),
        "waste": [
            (w.title, rounded(w.volume_mL, "mL", 2) if w.volume_mL else rounded(w.solid_g, "g", 2))
            for w in live.waste
        ],
    }
