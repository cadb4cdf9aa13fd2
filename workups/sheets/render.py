"""Template and data to HTML and PDF."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.template import Context, Engine

_ROOT = Path(__file__).resolve().parents[2]


@lru_cache(maxsize=1)
def _engine() -> Engine:
    return Engine(dirs=[str(_ROOT / "templates" / "sheets")], autoescape=True)


def html_of(template: str, values: Mapping[str, Any]) -> str:
    """A sheet's page as HTML; all values are escaped."""
    return _engine().get_template(template).render(Context(dict(values), use_l10n=False))


@lru_cache(maxsize=16)
def pdf_of(html: str) -> bytes:
    """HTML to a tagged PDF; equal input gives equal bytes, so the last few are remembered."""
    from .paper import printed  # takes a second, which a process that prints nothing need not spend

    return printed(html)
