"""The class report: the pictures of the class page, their words and tables, on paper."""

from collections.abc import Sequence
from dataclasses import dataclass

from workups.sheets.content import SheetHead
from workups.sheets.render import html_of, pdf_of
from workups.sheets.svg import Figure, printed
from workups.sheets.wording import REPORT_NOTICES, day


@dataclass(frozen=True)
class ClassReport:
    """A class on one exercise: how many reports, and the figures of the page, no names; the scheme
    of the model plan on a page of its own."""

    head: SheetHead
    title: str
    reports: int
    figures: Sequence[Figure]
    scheme: Figure | None = None


def class_report_pdf(report: ClassReport) -> bytes:
    """The report as PDF."""
    return pdf_of(class_report_html(report))


def class_report_html(report: ClassReport) -> str:
    """The report as the page that is printed."""
    return html_of(
        "class_report.html",
        {
            "head": report.head,
            "title": report.title,
            "kind": "Class report",
            "date": day(report.head.date),
            "reports": report.reports,
            "figures": report.figures,
            "scheme": printed(report.scheme.svg) if report.scheme else "",
            "notices": REPORT_NOTICES,
        },
    )
