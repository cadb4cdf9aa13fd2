"""Several sheets in one file: what is printed for a whole section at once."""

import re
from collections.abc import Sequence

from workups.sheets.render import pdf_of

_BODY = re.compile(r'<body class="([^"]*)">(.*)</body>', re.DOTALL)


def bundle_pdf(pages: Sequence[str]) -> bytes:
    """Sheets, as their pages of HTML, one after the other; raises ValueError for none."""
    return pdf_of(bundle_html(pages))


def bundle_html(pages: Sequence[str]) -> str:
    """The head of the first page with the bodies of all, each beginning on a new page."""
    if not pages:
        raise ValueError("no sheet to print")
    head, _, _ = pages[0].partition("<body ")
    bodies = "".join(
        f'<section class="bundled {classes}">{content}</section>'
        for page in pages
        for classes, content in _BODY.findall(page)
    )
    return f"{head}<body>{bodies}</body></html>"
