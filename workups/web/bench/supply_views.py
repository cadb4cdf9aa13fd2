"""After a spill or a broken flask: the instructor or TA supplies what would have been weighed."""

from decimal import Decimal
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from workups.chemistry.setup import Setup
from workups.models import ReadingKind
from workups.services.bench import HoldIsOpen, NoSubmittedPlan, RecordIsLocked
from workups.services.entries import ReadingValues
from workups.services.entries import supply_readings as supply_readings_service
from workups.web.access import current_person, get_work_to_review
from workups.web.bench.entry import BenchForm
from workups.web.bench.tables import target_tables
from workups.web.fields import BalanceField, decimals_of
from workups.web.requests import FORM_METHODS, HtmxRequest, sent_data
from workups.words.material_facts import substance_name


class SupplyForm(BenchForm):
    """A tare and a gross mass for each product, and why they are supplied."""

    def __init__(self, data: Any = None, *, setup: Setup, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.targets = [target.substance for target in setup.targets]
        self.readability = Decimal(str(setup.glassware.balance_readability_g))
        decimals = decimals_of(self.readability)
        for target in self.targets:
            for kind in ("tare", "gross"):
                self.fields[f"{kind}--{target}"] = BalanceField(
                    label=f"{substance_name(target, setup.tables).capitalize()}: {kind}, g",
                    decimals=decimals,
                    required=len(self.targets) == 1,
                )
        self.fields["reason"] = forms.CharField(
            label="What happened", max_length=300, help_text="The student reads it too."
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for target in self.targets:
            tare, gross = (cleaned.get(f"{kind}--{target}") for kind in ("tare", "gross"))
            if tare is not None and gross is not None and gross <= tare:
                self.add_error(f"gross--{target}", "The gross mass is not above the tare.")
        if not self.errors and not self.entries():
            raise forms.ValidationError("Nothing is filled in.")
        return cleaned

    def entries(self) -> list[ReadingValues]:
        return [
            ReadingValues(
                kind=ReadingKind(kind),
                subject=target,
                value=value,
                decimals=decimals_of(value),
                unit="g",
                text=self.cleaned_data.get("reason", ""),
                readability=self.readability,
                on_pan=["flask"],
            )
            for target in self.targets
            for kind in ("tare", "gross")
            if (value := self.cleaned_data.get(f"{kind}--{target}")) is not None
        ]


@require_http_methods(FORM_METHODS)
def supply_readings(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    changing = request.method == "POST"
    access, work = get_work_to_review(current_person(request), work_id, to_change=changing)
    setup = work.to_core().setup
    form = SupplyForm(sent_data(request), setup=setup)
    if changing and form.is_valid():
        try:
            supply_readings_service(
                actor=access.person,
                work=work,
                token=form.cleaned_data["client_token"],
                entries=form.entries(),
                reason=form.cleaned_data["reason"],
            )
        except RecordIsLocked:
            form.add_error(None, "The readings are locked. Return the report first.")
        except NoSubmittedPlan:
            form.add_error(None, "No plan is handed in yet: the record follows the plan.")
        except HoldIsOpen:
            form.add_error(None, "The plan has a safety hold. Clear it first.")
        else:
            messages.success(request, "Supplied, and marked as supplied by you.")
            return redirect("review-report", work_id)
    context = {
        "access": access,
        "work": work,
        "form": form,
        "targets": target_tables(work.bench_record, work.to_core())
        if work.bench_record
        else [],
    }
    return render(request, "workups/bench/supply_readings.html", context)
