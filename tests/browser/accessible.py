"""What every page is held to: it fits, breaks no accessibility rule, its controls have names."""

from __future__ import annotations

import re

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.long import IS_LONG

NARROW, WIDE = 320, 1440
WIDTHS = (NARROW, 360, 820, WIDE)
# Width and colour scheme of a run of axe, and the rules; None: all. Widths change the layout,
# schemes the contrast.
LAYOUT_AND_COLOUR = {"runOnly": ["color-contrast", "target-size", "scrollable-region-focusable"]}
LOOKS = ((NARROW, "light", None), (WIDE, "dark", LAYOUT_AND_COLOUR))
LONG_LOOKS = ((NARROW, "dark", None), (820, "light", None), (WIDE, "light", None))
_NAMELESS = re.compile(r"^\s*- (button|link|textbox|combobox|checkbox|radio|spinbutton)\s*$", re.M)


def broken_rules(page: Page, rules: dict[str, list[str]] | None = None) -> list[object]:
    """The accessibility rules that the page breaks, each with the places."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(Axe().axe_script)
    found = page.evaluate(
        "options => axe.run(options).then(results => results.violations)",
        {"resultTypes": ["violations"], **(rules or {})},
    )
    return [(v["id"], [n["target"] for n in v["nodes"]]) for v in found]


def tables_over_the_edge(page: Page) -> list[str]:
    """Tables wider than what holds them, which then lie over their neighbours."""
    return page.evaluate(
        """() => [...document.querySelectorAll("main table:not(.table-scroll table)")]
           .filter(t => t.offsetWidth > t.parentElement.clientWidth + 1)
           .map(t => t.innerText.slice(0, 80))"""
    )


def assert_accessible(page: Page) -> None:
    """Hold the page as it stands, without loading it again, to everything."""
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width, page.url
        assert tables_over_the_edge(page) == [], (page.url, width)
    for width, scheme, rules in (*LOOKS, *(LONG_LOOKS if IS_LONG else ())):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme=scheme)
        broken = broken_rules(page, rules)
        assert broken == [], (page.url, width, scheme, broken)
    said = page.locator("body").aria_snapshot()
    assert _NAMELESS.findall(said) == [], f"{page.url}\n{said}"


def too_small(page: Page, low: int = 44) -> list[object]:
    """Targets in the page's main part smaller than so many pixels, with what they say."""
    return page.evaluate(
        """low => [...document.querySelectorAll(
             "main :is(button, .button, select, textarea, summary, input:not([type=hidden])), "
             + "main :is(.step__tools, .actions, .tabs, .bench-list, .bench-bar) a")]
           .map(e => [e, (e.closest("label, .field__tick") || e).getBoundingClientRect()])
           .filter(([, box]) => box.height > 0 && (box.height < low || box.width < low))
           .map(([e, box]) => [e.innerText || e.name, box.width, box.height])""",
        low,
    )
