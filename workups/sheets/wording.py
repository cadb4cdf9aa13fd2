"""Sentences that stand on the sheets, and dates in words."""

import datetime

from workups.grading.assessment import TrailShare

BEFORE_YOU_START = (
    "Goggles, coat, closed shoes, the right gloves. Funnel clean, tap checked with water, a "
    "flask under it. A plan that passed its check is not permission to start: your TA admits "
    "you. Label every flask before you pour, and keep every layer until the product is weighed."
)
BENCH_NOTICES = (
    "Teaching material: the local safety rules, the safety data sheets and the responsible "
    "instructor come first. For a supervised laboratory with hoods only.",
    "Computed gas volumes and amounts are estimates, not safety limits; real yields vary.",
    "Spill, pressure, injury: stop and tell the TA at once.",
    "No phone in gloved hands. A contaminated sheet stays in the laboratory: ask for a new one.",
    "A wrong entry is struck through once and stays readable.",
)
STAFF_NOTICES = (
    "Teaching material: the local safety rules, the safety data sheets and the responsible "
    "instructor come first. For a supervised laboratory with hoods only.",
    "Amounts, gas volumes and waste are computed from the model plan; they are estimates, not "
    "safety limits. What students plan for themselves may take more or less.",
    "Pictograms are drawn after the open UN standard (GHS) from hazard statements in this "
    "program's tables; the label on the supplier's bottle holds.",
)
LABEL_NOTICE = (
    "Hazards are those of what should be in it, computed with simplified limits for mixtures; "
    "pictograms after the open UN standard (GHS). The supplier's label and your TA come first."
)
REPORT_NOTICES = (
    "Expected values come from a model with stated uncertainties; real yields vary.",
    "Teaching material, no safety review: the local rules and the responsible instructor come "
    "first.",
)
DIAGNOSIS_NOTICE = (
    "Suggestions, computed from the readings; they prove nothing. What has the same number fits "
    "equally well. The weights were held against invented students, who make slips as this list "
    "expects them; real ones may not."
)


def day(date: datetime.date | None) -> str:
    """A date as "4 March 2030", or nothing.

    >>> day(datetime.date(2030, 3, 4))
    '4 March 2030'
    """
    return "" if date is None else f"{date.day} {_MONTHS[date.month - 1]} {date.year}"


_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


_PLACES = {"glass": "left on glass", "air": "evaporated", "gone": "no longer there"}
_PHASES = {"droplets": "water droplets", "solid": "with the solid"}


def place_words(share: TrailShare) -> str:
    """Where some of a product is: "funnel (organic)", "waste (acid)"."""
    place = _PLACES.get(share.place, share.place)
    phase = _PHASES.get(share.phase, share.phase.replace("_", "-"))
    return f"{place} ({phase})" if phase else place
