"""The stockroom's sheet as PDF: a section on a page or two, the total before them."""

from collections.abc import Iterable
from dataclasses import dataclass

from workups.sheets.pictograms import pictogram_svg
from workups.sheets.render import html_of, pdf_of
from workups.sheets.staff_content import PrepPart, PrepSheets
from workups.sheets.wording import STAFF_NOTICES, day
from workups.stock.hazards import PICTOGRAMS


@dataclass(frozen=True)
class Pictogram:
    """A pictogram as drawn, with its word."""

    svg: str
    word: str


def drawn(names: Iterable[str], key: object = "") -> tuple[Pictogram, ...]:
    """Pictograms by name; ``key`` makes their ids unique on a page."""
    return tuple(Pictogram(pictogram_svg(n, str(key)), PICTOGRAMS[n]) for n in names)


def prep_sheets_pdf(sheets: PrepSheets) -> bytes:
    """The prep sheets as PDF."""
    return pdf_of(prep_sheets_html(sheets))


def prep_sheets_html(sheets: PrepSheets) -> str:
    """The prep sheets as the page that is printed."""
    return html_of(
        "prep_sheet.html",
        {
            "head": sheets.head,
            "title": sheets.title,
            "kind": "Prep sheet",
            "date": day(sheets.head.date),
            "parts": [_part(number, part) for number, part in enumerate(sheets.parts)],
            "notices": STAFF_NOTICES,
        },
    )


def _part(number: int, part: PrepPart) -> dict[str, object]:
    return {
        "heading": part.heading,
        "note": part.note,
        "cautions": part.cautions,
        "emergency": part.emergency,
        "sheet": part.sheet,
        "pictograms": drawn(part.sheet.pictograms, number),
        "groups": [
            (
                group.title,
                [
                    (line, drawn(line.pictograms, f"{number}-{group.title}-{at}"))
                    for at, line in enumerate(group.lines)
                ],
            )
            for group in part.sheet.groups
        ],
    }
