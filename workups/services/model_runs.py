"""The assessment of an exercise's own model plan, computed once and kept."""

import hashlib
from datetime import timedelta

from django.utils import timezone

from workups.chemistry import ENGINE_VERSION
from workups.documents import assessment_from_data, assessment_to_data, load_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment
from workups.models import ExerciseRevision, ModelRun
from workups.services import assessments
from workups.services.assessments import seed_for
from workups.services.computing import CannotBeCarriedOut, computing
from workups.services.refusals import Refused

DRAFT_SEED = 1
KEPT_FOR = timedelta(days=120)


class ModelPlanFails(Refused):
    """The model plan cannot be carried out; the message says where it stops."""


def assess_model_of(revision: ExerciseRevision) -> Assessment:
    """The model plan of a published exercise, with the draws that its reports are judged by."""
    return assess_model(document=revision.document, seed=seed_for(revision))


def assess_model(*, document: str, seed: int = DRAFT_SEED) -> Assessment:
    """The model plan of an exercise file; raises DocumentError or ModelPlanFails."""
    digest = digest_of(document, seed)
    known = ModelRun.objects.filter(digest=digest).first()
    if known is not None:
        return assessment_from_data(known.assessment)
    assessment = _compute(document, seed)
    ModelRun.objects.get_or_create(
        digest=digest,
        defaults={"engine": assessment.engine, "assessment": assessment_to_data(assessment)},
    )
    ModelRun.objects.filter(made_at__lt=timezone.now() - KEPT_FOR).delete()
    return assessment


def digest_of(document: str, seed: int) -> str:
    """Names a model run by all it is computed from."""
    parts = "\0".join((str(ENGINE_VERSION), str(seed), str(assessments.DRAWS), document))
    return hashlib.sha256(parts.encode()).hexdigest()


def _compute(document: str, seed: int) -> Assessment:
    exercise = load_exercise(document)
    try:
        with computing(f"the model plan of {exercise.key}", for_author=True):
            return assess(exercise, seed=seed, draws=assessments.DRAWS, curves=True)
    except CannotBeCarriedOut as problem:
        raise ModelPlanFails(problem.for_author) from problem
