"""Labels for the waste containers of a section: stream, contents, hazards, what to write on."""

from workups.sheets.content import SheetHead
from workups.sheets.hazard_marks import HazardMarks, hazard_marks
from workups.sheets.prep_lines import PrepSheet, WasteLine
from workups.sheets.render import html_of
from workups.sheets.wording import LABEL_NOTICE

# More containers of one stream than this get their labels by printing the page again.
_MOST = 10


def waste_labels_html(head: SheetHead, title: str, sheet: PrepSheet) -> str:
    """The labels as the page that is printed; one for each container of a prep sheet."""
    return html_of(
        "waste_labels.html",
        {
            "head": head,
            "title": title,
            "kind": "Waste labels",
            "labels": waste_labels(sheet),
            "notice": LABEL_NOTICE,
        },
    )


def waste_labels(sheet: PrepSheet) -> list[tuple[WasteLine, HazardMarks]]:
    """A line of the sheet for each container, with the marks of what should be in it."""
    lines = [line for line in sheet.waste for _ in range(min(line.waste.containers[0] or 1, _MOST))]
    return [
        (line, hazard_marks(line.waste.hazards, f"waste-{at}")) for at, line in enumerate(lines)
    ]
