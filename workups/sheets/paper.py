"""HTML to PDF by WeasyPrint. Nothing is fetched but the sheets' own stylesheet."""

from collections.abc import Mapping
from pathlib import Path

from weasyprint import HTML  # type: ignore[import-untyped]
from weasyprint.urls import (  # type: ignore[import-untyped]
    FatalURLFetchingError,
    URLFetcher,
    URLFetcherResponse,
)

_ROOT = Path(__file__).resolve().parents[2]
_SCHEME = "sheet:"
_OWN_FILES: Mapping[str, tuple[Path, str]] = {
    f"{_SCHEME}sheets.css": (_ROOT / "static" / "css" / "sheets.css", "text/css"),
}


class OwnFilesOnly(URLFetcher):  # type: ignore[misc]
    """Serves the files listed above by their ``sheet:`` names and refuses everything else.

    A refusal stops the rendering: nothing on a sheet ever asks for another file.
    """

    def __init__(self) -> None:
        super().__init__(fail_on_errors=True)

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> URLFetcherResponse:
        """The bytes of one of our own files; raises FatalURLFetchingError for any other URL."""
        del headers
        if url not in _OWN_FILES:
            raise FatalURLFetchingError(f"a sheet may not fetch {url}")
        path, kind = _OWN_FILES[url]
        return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})


def printed(html: str) -> bytes:
    """HTML to a tagged PDF; equal input gives equal bytes."""
    page = HTML(string=html, base_url=_SCHEME, url_fetcher=OwnFilesOnly())
    return bytes(page.write_pdf(pdf_tags=True))
