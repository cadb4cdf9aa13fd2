from collections.abc import Mapping
from datetime import datetime, timedelta

from django.db import models
from django.utils import timezone

from workups.chemistry.fields import Declared, spec_of
from workups.chemistry.readings import (
    AGENT_LOOKS,
    LIQUID_LOOKS,
    MARKS,
    WITNESS_KINDS,
    DryingRecord,
    Readings,
    SamplePart,
    SeenVolume,
    Weighing,
    Witness,
)
from workups.models.append_only import AppendOnlyModel
from workups.models.people import Person
from workups.models.planning import PlanRevision
from workups.models.public import PublicIdModel

# How far from our own clock an entry's may lie: a course is a term, a device may wait long.
REACH_BACK = timedelta(days=400)
REACH_AHEAD = timedelta(days=1)
READING_DECIMALS = 6


def set_right(device_at: datetime | None, offset_s: int | None, now: datetime) -> datetime | None:
    """A device's own clock set right by what it adds to get ours, in s.

    None where either is not known, and where the two lead out of the course's reach.
    """
    if device_at is None or offset_s is None:
        return None
    try:
        at = device_at + timedelta(seconds=offset_s)
    except OverflowError:
        return None
    return at if now - REACH_BACK <= at <= now + REACH_AHEAD else None


class BenchRecord(PublicIdModel):
    """What was done and measured at the bench; partners' works point to the same record."""

    plan_revision = models.ForeignKey(
        PlanRevision,
        on_delete=models.PROTECT,
        related_name="bench_records",
        help_text="The submitted plan that is worked down.",
    )
    started_at = models.DateTimeField(default=timezone.now, editable=False)
    started_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="started_bench_records"
    )
    locked_at = models.DateTimeField(null=True, blank=True, editable=False)
    locked_by = models.ForeignKey(
        Person,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="locked_bench_records",
        help_text="Empty when the deadline locked it.",
    )

    class Meta:
        ordering = ("-started_at",)

    def __str__(self) -> str:
        return f"Bench record of {self.plan_revision.work}"


class ShareRequest(PublicIdModel):
    """A student asks to share a partner's record by its code; one of its owners answers.

    Without `record` it was a code that opens none: a try that is counted, and forgotten later.
    """

    work = models.ForeignKey(
        "workups.Work", on_delete=models.PROTECT, related_name="share_requests"
    )
    record = models.ForeignKey(
        BenchRecord,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="share_requests",
    )
    asked_at = models.DateTimeField(default=timezone.now, editable=False)
    granted = models.BooleanField(null=True, blank=True, help_text="Empty until it is answered.")
    answered_at = models.DateTimeField(null=True, blank=True, editable=False)
    answered_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="answered_shares"
    )

    class Meta:
        ordering = ("-asked_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("work",),
                condition=models.Q(record__isnull=False, granted__isnull=True),
                name="one_open_share_request_per_work",
            ),
        )

    def __str__(self) -> str:
        return f"{self.work} asks to share a bench record"


class EntrySource(models.TextChoices):
    BENCH = "bench", "At the bench"
    STATION = "station", "At the shared station"
    SHEET = "sheet", "Late entry from the printed sheet"
    SUPPLIED = "supplied", "Supplied by the instructor"


class BenchEntry(AppendOnlyModel):
    """What every entry of a bench record has.

    `client_token` comes from the form that sent the entry, so that sending twice stores once.
    `device_at` is the sender's own clock and may be wrong; `server_at` is ours. Entries are in
    the order of their keys; no clock decides about order.
    """

    client_token = models.UUIDField(unique=True)
    device_at = models.DateTimeField(null=True, blank=True)
    device_offset_s = models.IntegerField(
        null=True, blank=True, help_text="What the device adds to its clock to get ours, in s."
    )
    source = models.CharField(
        max_length=10, choices=EntrySource, default=EntrySource.BENCH, help_text="How it came in."
    )
    server_at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="recorded_%(class)s_entries"
    )
    supersedes = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="superseded_by",
    )
    reason = models.CharField(max_length=300, blank=True, help_text="Why an entry was corrected.")
    withdrawn = models.BooleanField(
        default=False, help_text="Takes back the entry it supersedes and puts nothing in its place."
    )

    class Meta:
        abstract = True

    @property
    def made_at(self) -> datetime:
        """When it was recorded, by our clock: the device's own clock set right, if it can be."""
        at = set_right(self.device_at, self.device_offset_s, self.server_at)
        return self.server_at if at is None else min(at, self.server_at)

    @property
    def came_late(self) -> bool:
        """Whether it waited on a device for more than two minutes before it was sent."""
        return self.server_at - self.made_at > timedelta(minutes=2)


class BenchStep(BenchEntry):
    """How one step was really carried out. The newest entry for a step holds."""

    record = models.ForeignKey(BenchRecord, on_delete=models.PROTECT, related_name="steps")
    step_id = models.CharField(max_length=60)
    mark = models.CharField(max_length=10, choices=[(mark, mark) for mark in MARKS])
    data = models.JSONField(help_text="The step with the amounts really used.")
    after = models.CharField(max_length=60, blank=True, help_text="For an added step.")
    remark = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.step_id}: {self.mark}"


class ReadingKind(models.TextChoices):
    TARE = "tare", "Tare"
    GROSS = "gross", "Gross"
    AGENT_MASS = "agent mass", "Drying agent used"
    AGENT_PORTIONS = "agent portions", "Portions of drying agent"
    AGENT_LOOK = "agent look", "Look of the drying agent"
    LIQUID_LOOK = "liquid look", "Look of the liquid"
    DRYING_TIME = "drying time", "Time over the drying agent"
    VOLUME = "volume", "Volume"
    REAGENT = "reagent", "Reagent really used"
    WITNESS = "witness", "Sign of identity or purity"
    PART = "part", "Part taken out"


WEIGHING_KINDS = frozenset({ReadingKind.TARE, ReadingKind.GROSS})
LOOK_WORDS = {ReadingKind.AGENT_LOOK: AGENT_LOOKS, ReadingKind.LIQUID_LOOK: LIQUID_LOOKS}


# The fields of a bench record that `value` and `value_high` become: their bounds hold here too.
BECOMES: Mapping[str, tuple[Declared, ...]] = {
    ReadingKind.TARE: (spec_of(Weighing, "mass_g"),),
    ReadingKind.GROSS: (spec_of(Weighing, "mass_g"),),
    ReadingKind.AGENT_MASS: (spec_of(DryingRecord, "agent_mass_g"),),
    ReadingKind.AGENT_PORTIONS: (spec_of(DryingRecord, "portions"),),
    ReadingKind.DRYING_TIME: (spec_of(DryingRecord, "minutes"),),
    ReadingKind.VOLUME: (spec_of(SeenVolume, "volume_mL"),),
    ReadingKind.REAGENT: (spec_of(Readings, "reagents"),),
    ReadingKind.WITNESS: (spec_of(Witness, "low_C"), spec_of(Witness, "high_C")),
    ReadingKind.PART: (spec_of(SamplePart, "empty_g"), spec_of(SamplePart, "full_g")),
}


def _within_bounds() -> models.Q:
    """A reading's values are those that its kind may have."""
    every = models.Q()
    for kind, specs in BECOMES.items():
        for column, spec in zip(("value", "value_high"), specs, strict=False):
            inside = models.Q(**{f"{column}__gte": spec.low, f"{column}__lte": spec.high})
            every &= ~models.Q(kind=kind) | models.Q(**{f"{column}__isnull": True}) | inside
    return every


class Reading(BenchEntry):
    """One reading. Never changed; a correction is a new row that supersedes it, with a reason.

    `subject` is the target weighed or witnessed, or the reagent used. `step_id` and `flask` say
    where a drying or volume reading belongs. `value` keeps the decimals that were typed
    (`decimals`), because a balance shows 45.30 and not 45.3. `text` holds a look or what was seen.
    Of a part taken out of the product `value` is its vial empty, `value_high` the vial with the
    part, and `flask` where it went.
    """

    record = models.ForeignKey(BenchRecord, on_delete=models.PROTECT, related_name="readings")
    kind = models.CharField(max_length=20, choices=ReadingKind)
    subject = models.CharField(max_length=80, blank=True)
    step_id = models.CharField(max_length=60, blank=True)
    flask = models.CharField(max_length=60, blank=True)
    value = models.DecimalField(
        max_digits=14, decimal_places=READING_DECIMALS, null=True, blank=True
    )
    value_high = models.DecimalField(
        max_digits=14,
        decimal_places=READING_DECIMALS,
        null=True,
        blank=True,
        help_text="End of a range (mp); a vial with a part of the product.",
    )
    decimals = models.PositiveSmallIntegerField(default=0)
    unit = models.CharField(max_length=10, blank=True)
    text = models.CharField(max_length=500, blank=True)
    witness_kind = models.CharField(
        max_length=12, blank=True, choices=[(kind, kind) for kind in WITNESS_KINDS]
    )
    agrees = models.BooleanField(
        null=True, blank=True, help_text="Whether the sign agrees with the product expected."
    )
    flask_number = models.CharField(max_length=30, blank=True)
    balance = models.CharField(max_length=60, blank=True)
    readability = models.DecimalField(
        max_digits=10, decimal_places=6, null=True, blank=True, help_text="Of the balance, in g."
    )
    on_pan = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.CheckConstraint(
                name="readings_within_their_bounds",
                condition=_within_bounds(),
                violation_error_message="That is more or less than a reading of this kind can be.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.shown_value}".strip()

    @property
    def weighed_pair(self) -> str:
        """The two masses of a part's vial: "vial 12.30 to 15.21"."""
        if self.value is None or self.value_high is None:
            return ""
        return f"vial {self.value:.{self.decimals}f} to {self.value_high:.{self.decimals}f}"

    @property
    def shown_value(self) -> str:
        """The value with the decimals it was read with, and its unit; or the words recorded."""
        if self.value is None:
            return self.text
        if self.kind == ReadingKind.PART and self.value_high is not None:
            part = self.value_high - self.value
            return f"{part:.{self.decimals}f} {self.unit}"
        shown = f"{self.value:.{self.decimals}f}"
        if self.value_high is not None:
            shown += f"–{self.value_high:.{self.decimals}f}"
        return f"{shown} {self.unit}".strip()


class BenchTick(AppendOnlyModel):
    """A TA's word during the lab: seen and in order."""

    class Kind(models.TextChoices):
        QUENCH = "quench", "Quench done"
        VENTED = "vented", "Vented"
        TARE = "tare", "Tare seen"
        GROSS = "gross", "Gross seen"
        OTHER = "other", "Seen"

    record = models.ForeignKey(BenchRecord, on_delete=models.PROTECT, related_name="ticks")
    kind = models.CharField(max_length=10, choices=Kind)
    step_id = models.CharField(max_length=60, blank=True)
    remark = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="bench_ticks")
    at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.by}"


class SheetTyping(AppendOnlyModel):
    """The printed bench sheet as somebody typed it in, for double entry; nothing typed is lost.

    `turn` is 1 for the first time, 2 for the second without sight of the first, 3 for what was
    decided where the two differ. `stored` marks the row that the record's entries came from.
    """

    record = models.ForeignKey(BenchRecord, on_delete=models.PROTECT, related_name="typings")
    client_token = models.UUIDField(unique=True)
    turn = models.PositiveSmallIntegerField()
    data = models.JSONField(help_text="What stood in each field, as typed.")
    stored = models.BooleanField(default=False)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="sheet_typings")
    at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"Sheet typed in, turn {self.turn}, {self.by}"
