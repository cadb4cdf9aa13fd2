"""Forms for variants: what is changed, and who gets it."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from workups.chemistry.substances import Tables
from workups.documents.variants import AmountSpread, Swap, Variant
from workups.documents.variants.variant import MOST_PORTIONS, MOST_SPREAD, SCALES
from workups.exercise.exercise import Exercise
from workups.models import Assignment, ExerciseVariant, Work
from workups.web.fields import NumberField
from workups.words.material_facts import material_name, substance_name

SWAPS = (1, 2, 3)
_NONE = [("", "nothing")]
AS_PUBLISHED = "published"


def exercise_choices(exercise: Exercise) -> list[tuple[str, Any]]:
    """What the exercise uses and may be exchanged."""
    setup = exercise.setup
    substances = {r.substance for r in setup.reaction.reagents}
    substances |= {t.substance for t in setup.targets}
    substances |= {p.substance for p in setup.reaction.products}
    own = {m.key for m in setup.own_materials}
    fixed = {"water", *own}
    return [
        ("Solvents, solutions, drying agents",
         [(k, material_name(k, exercise)) for k in setup.materials if k not in fixed]),
        ("Substances", [(k, substance_name(k, setup.tables)) for k in sorted(substances - fixed)]),
    ]


def table_choices(known: Tables) -> list[tuple[str, Any]]:
    """Everything that the tables know and can take something's place."""

    def named(keys: Any) -> list[tuple[str, str]]:
        return sorted(((k, known.material_name(k)) for k in keys), key=lambda pair: pair[1])

    others = (k for k in known.substances if k not in known.solvents and k != "water")
    return [
        ("Solvents", named(known.solvents)),
        ("Solutions", named(k for k in known.solutions if k != "water")),
        ("Drying agents", named(known.agents)),
        ("Substances", named(others)),
    ]


class VariantForm(forms.Form):
    """Another form of an exercise. Gives `variant`, a `Variant`."""

    title = forms.CharField(
        max_length=120,
        label="Name",
        help_text="For staff; students never see it. “Ethyl acetate”, “half scale”.",
    )
    scale = NumberField(
        label="Scale",
        low=SCALES[0],
        high=SCALES[1],
        initial="1",
        help_text="0.5: half of all amounts and volumes.",
    )
    spread_percent = NumberField(
        label="Own amounts, up to",
        unit="%",
        low=0,
        high=100 * MOST_SPREAD,
        required=False,
        help_text="More or less than planned, different for every student. Empty: alike for all.",
    )
    spread_over = forms.MultipleChoiceField(
        label="Own amounts of", required=False, widget=forms.CheckboxSelectMultiple
    )
    most_portions = forms.IntegerField(
        label="Portions of solvent, at most", min_value=1, max_value=12, initial=MOST_PORTIONS
    )

    def __init__(self, *args: Any, exercise: Exercise, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        used = _NONE + exercise_choices(exercise)
        known = _NONE + table_choices(exercise.setup.tables)
        for number in SWAPS:
            self.fields[f"old_{number}"] = forms.ChoiceField(
                label="In place of", choices=used, required=False
            )
            self.fields[f"new_{number}"] = forms.ChoiceField(
                label="comes", choices=known, required=False
            )
        spread = self.fields["spread_over"]
        assert isinstance(spread, forms.MultipleChoiceField)
        spread.choices = [
            (r.substance, substance_name(r.substance, exercise.setup.tables))
            for r in exercise.setup.reaction.reagents
        ]

    @property
    def swap_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"old_{n}"], self[f"new_{n}"]) for n in SWAPS]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        swaps = self._swaps(cleaned)
        percent, over = cleaned.get("spread_percent"), cleaned.get("spread_over") or []
        if percent and not over:
            self.add_error("spread_over", "Say which amounts differ.")
        if over and not percent:
            self.add_error("spread_percent", "Say by how much they differ.")
        if self.errors:
            return cleaned
        spreads = tuple(AmountSpread(key, float(percent) / 100) for key in over if percent)
        cleaned["variant"] = Variant(
            swaps, float(cleaned["scale"]), spreads, cleaned["most_portions"]
        )
        if cleaned["variant"].changes_nothing:
            raise ValidationError("Change something: a material, the scale, or the amounts.")
        return cleaned

    def _swaps(self, cleaned: dict[str, Any]) -> tuple[Swap, ...]:
        swaps: list[Swap] = []
        for number in SWAPS:
            old, new = cleaned.get(f"old_{number}"), cleaned.get(f"new_{number}")
            if bool(old) != bool(new):
                missing = f"new_{number}" if old else f"old_{number}"
                self.add_error(missing, "Choose both: what goes and what comes.")
            elif old and new and old in {s.old for s in swaps}:
                self.add_error(f"old_{number}", "This is exchanged already.")
            elif old and new:
                swaps.append(Swap(old, new))
        return tuple(swaps)


class ChooseVariantForm(forms.Form):
    """One of an exercise's variants, or the exercise as it was published."""

    variant = forms.ChoiceField(label="Form of the exercise")

    def __init__(self, *args: Any, variants: list[ExerciseVariant], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.variants = {str(v.public_id): v for v in variants}
        field = self.fields["variant"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            (AS_PUBLISHED, "as published"),
            *((key, v.title) for key, v in self.variants.items()),
        ]

    def chosen(self) -> ExerciseVariant | None:
        return self.variants.get(self.cleaned_data["variant"])


class StudentVariantForm(ChooseVariantForm):
    """The same for one student, with the reason."""

    student = forms.ModelChoiceField(
        Work.objects.none(), to_field_name="public_id", empty_label="choose"
    )
    reason = forms.CharField(
        max_length=300,
        help_text="Kept in the audit log for instructors; nobody else sees it.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    field_order = ("student", "variant", "reason")

    def __init__(self, *args: Any, assignment: Assignment, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["student"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = (
            Work.objects.filter(assignment=assignment, enrolment__left_at__isnull=True)
            .select_related("enrolment__person", "revision", "variant")
            .order_by("enrolment__person__display_name")
        )
        named = lambda work: str(work.student)  # noqa: E731
        field.label_from_instance = named  # type: ignore[method-assign]
