"""What a reader finds in a PDF."""

import io

from pypdf import PdfReader


def pages_of(pdf: bytes) -> list[str]:
    """The text of each page, runs of blanks made one."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def size_mm(pdf: bytes) -> tuple[int, int]:
    """Width and height of the first page, whole millimetres."""
    box = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    return round(float(box.width) / 72 * 25.4), round(float(box.height) / 72 * 25.4)
