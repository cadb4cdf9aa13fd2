"""The step from page to PDF: nothing is fetched, nothing is trusted, equal input equal bytes."""

import datetime
from pathlib import Path

import pytest
from weasyprint.urls import FatalURLFetchingError

from workups.sheets.paper import OwnFilesOnly
from workups.sheets.render import html_of, pdf_of
from workups.sheets.wording import day

SHEETS_CSS = Path(__file__).resolve().parents[2] / "static" / "css" / "sheets.css"

ELSEWHERE = [
    "file:///etc/passwd",
    "file:///etc/../etc/hostname",
    "http://127.0.0.1:1/x.png",
    "https://127.0.0.1:1/x.css",
    "ftp://127.0.0.1:1/x",
    "data:text/css,p{color:red}",
    "sheet:../settings.py",
    "sheet:labcourse.css",
    "sheet:",
    "relative.css",
    "",
]


@pytest.mark.parametrize("url", ELSEWHERE)
def test_the_fetcher_refuses_everything_but_the_sheets_own_files(url: str) -> None:
    with pytest.raises(FatalURLFetchingError, match="may not fetch"):
        OwnFilesOnly().fetch(url)


@pytest.mark.parametrize("url", ELSEWHERE)
def test_opening_or_calling_the_fetcher_is_no_way_round(url: str) -> None:
    with pytest.raises(FatalURLFetchingError):
        OwnFilesOnly().open(url)
    with pytest.raises(FatalURLFetchingError):
        OwnFilesOnly()(url)


def test_the_fetcher_serves_the_stylesheet_of_the_sheets() -> None:
    served = OwnFilesOnly().fetch("sheet:sheets.css")
    assert served.read() == SHEETS_CSS.read_bytes()
    assert served.content_type == "text/css"


@pytest.mark.parametrize(
    "part",
    [
        '<img src="file:///etc/hostname" alt="">',
        '<img src="http://127.0.0.1:1/x.png" alt="">',
        '<link rel="stylesheet" href="file:///etc/hostname">',
        '<p style="background: url(file:///etc/hostname)">x</p>',
        '<object data="file:///etc/hostname"></object>',
    ],
)
def test_a_page_that_asks_for_anything_else_is_not_printed(part: str) -> None:
    with pytest.raises(FatalURLFetchingError):
        pdf_of(f'<!DOCTYPE html><html lang="en"><title>x</title><body>{part}</body></html>')


def test_a_picture_that_asks_for_a_file_does_not_get_it(caplog: pytest.LogCaptureFixture) -> None:
    image = '<image href="file:///etc/hostname" width="9" height="9"/>'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">{image}</svg>'
    pdf_of(f'<!DOCTYPE html><html lang="en"><title>x</title><body>{svg}</body></html>')
    assert "Failed to render SVG image" in caplog.text


def test_a_page_without_references_is_printed() -> None:
    assert pdf_of('<!DOCTYPE html><html lang="en"><title>x</title><p>x').startswith(b"%PDF-")


def test_values_in_a_template_are_escaped() -> None:
    html = html_of("_blank.html", {"blank": {"label": "<img src=x>", "unit": "", "boxes": ""}})
    assert "&lt;img src=x&gt;" in html
    assert "<img" not in html


def test_a_date_is_written_out() -> None:
    assert day(datetime.date(2030, 12, 31)) == "31 December 2030"
    assert day(None) == ""
