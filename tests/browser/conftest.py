"""A real Chromium, Debian's own, against pytest-django's live server."""

import os
from collections.abc import Callable, Iterator

import pytest
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

from tests.browser.chromium import chromium_flags, find_chromium
from workups.models import Person

WIDE = {"width": 1440, "height": 900}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder is a browser test."""
    for item in items:
        if "/tests/browser/" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)


def require_chromium() -> str:
    """Its path. A machine without it fails these tests; it does not skip them."""
    found = find_chromium()
    if found is None:
        pytest.fail("Chromium is not installed. Run `bash .ci/setup tests`.", pytrace=False)
    return found


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=require_chromium(), args=chromium_flags()
        )
        # Playwright's loop runs in this thread, so Django takes the thread for an async one.
        # The tests themselves use the database synchronously, as everywhere else.
        before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
        os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
        try:
            yield chromium
        finally:
            if before is None:
                del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
            chromium.close()


@pytest.fixture
def new_page(browser: Browser, live_server: LiveServer) -> Iterator[Callable[..., Page]]:
    """Make pages of the live server: `new_page(person)`, and Playwright's context options.

    Each is a browser of its own, signed in as the person; `new_page(None)` is signed out.
    An error on a page's console or an exception in its script fails the test.
    """
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def make(person: Person | None = None, **options: object) -> Page:
        options.setdefault("viewport", WIDE)
        # A part that fades in has too little contrast for a moment.
        options.setdefault("reduced_motion", "reduce")
        context = browser.new_context(base_url=live_server.url, locale="en-GB", **options)
        contexts.append(context)
        if person is not None:
            context.add_cookies([session_cookie(person, live_server.url)])
        page = context.new_page()
        page.set_default_timeout(60_000)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda line: complaints.append(line.text) if line.type == "error" else None,
        )
        return page

    yield make
    for context in contexts:
        context.close()
    assert complaints == []


def session_cookie(person: Person, url: str) -> dict[str, str]:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": url}
