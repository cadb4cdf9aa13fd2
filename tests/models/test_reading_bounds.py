"""The database takes of a reading what the file of a bench record takes: the same declarations."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from workups.documents import DocumentError, load_readings
from workups.models import Reading, ReadingKind
from workups.models.bench import BECOMES

_STEP = Decimal("0.000001")
ENDS = [
    (kind, column, end, Decimal(str(bound)), outwards)
    for kind, specs in BECOMES.items()
    for column, spec in zip(("value", "value_high"), specs, strict=False)
    for end, bound, outwards in (("low", spec.low, -_STEP), ("high", spec.high, _STEP))
]


def made(record, student, kind, column, value):
    """Past the model's own checks, as raw SQL or a bulk write would."""
    reading = Reading(record=record, kind=kind, subject="hexyl_acetate", by=student,
                      client_token=uuid4(), **{column: value})
    with transaction.atomic():
        Reading.objects.bulk_create([reading])
    return reading


@pytest.mark.parametrize(
    ("kind", "column", "end", "bound", "outwards"), ENDS, ids=lambda part: str(part)[:16])
def test_a_value_at_its_bound_is_kept_and_one_beyond_is_refused(
    bench_work, student, kind, column, end, bound, outwards
):
    record = bench_work.bench_record
    made(record, student, kind, column, bound)
    with pytest.raises(IntegrityError, match="readings_within_their_bounds"):
        made(record, student, kind, column, bound + outwards)
    with pytest.raises(ValidationError, match="more or less than a reading"):
        Reading(record=record, kind=kind, by=student, client_token=uuid4(),
                **{column: bound + outwards}).full_clean()


def test_every_kind_with_a_value_has_bounds():
    without = {ReadingKind.AGENT_LOOK, ReadingKind.LIQUID_LOOK}
    assert set(BECOMES) == set(ReadingKind) - without


@pytest.mark.parametrize(("mass", "taken"), [("10000", True), ("10000.01", False)])
def test_the_file_of_a_record_has_the_same_bound(mass, taken):
    text = f"""document = "readings"
version = 1
[[target.hexyl_acetate.weighing]]
kind = "tare"
mass_g = {mass}
"""
    if taken:
        assert load_readings(text).targets
    else:
        with pytest.raises(DocumentError, match="from -1000 to 10000 g"):
            load_readings(text)
