from typing import Any

from workups.exercise.exercise import Exercise
from workups.explanation.plausible import doubts
from workups.grading.assessment import Assessment
from workups.selectors.model_preview import model_preview
from workups.sheets.curve import recovery_figure
from workups.sheets.scheme import scheme_figure


def preview_context(exercise: Exercise, assessment: Assessment) -> dict[str, Any]:
    """What `_model.html` shows of an exercise whose model plan was carried out."""
    curves = [recovery_figure(e) for e in assessment.expected if e.same_total]
    return {
        "exercise": exercise,
        "model": model_preview(exercise, assessment),
        "doubts": doubts(exercise),
        "curves": curves,
        "scheme": scheme_figure(exercise, exercise.model_plan, assessment.steps, shares_only=False),
    }
