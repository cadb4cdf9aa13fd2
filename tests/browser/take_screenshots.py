"""Takes the pictures of README from a fresh demo course: python -m tests.browser.take_screenshots

Makes a small demo course in a folder of its own, serves it on loopback, signs in as each person
and writes the pictures to static/img/tour.
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from tests.browser.chromium import chromium_flags, find_chromium

ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "static" / "img" / "tour"
PASSWORD = "larkmoor-demo"
STARTS_WITHIN_S = 300
# The second student of Thursday has a plan that is filled in and not handed in.
WRITES_A_PLAN, VINEGAR = "student11", "Too much vinegar"


def free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


@contextmanager
def served_demo() -> Iterator[str]:
    """A demo course of three students a section, served until the block ends."""
    port = free_port()
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "LOCAL_DIR": folder}
        command = [sys.executable, "manage.py", "demo", "--students", "3", "--port", str(port)]
        subprocess.run([*command, "--no-serve"], cwd=ROOT, env=environment, check=True)
        server = subprocess.Popen(command, cwd=ROOT, env=environment)
        try:
            wait_for(f"http://127.0.0.1:{port}/sign-in/")
            yield f"http://127.0.0.1:{port}"
        finally:
            server.terminate()
            server.wait(timeout=10)


def wait_for(address: str) -> None:
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until:
        try:
            urllib.request.urlopen(address, timeout=5)  # noqa: S310 (loopback)
        except OSError:
            time.sleep(0.5)
        else:
            return
    raise TimeoutError(f"{address} did not answer within {STARTS_WITHIN_S} s")


def signed_in(browser: Browser, base: str, name: str, width: int = 1120) -> Page:
    page = browser.new_context(viewport={"width": width, "height": 860}).new_page()
    page.goto(f"{base}/sign-in/")
    page.locator("[name=username]").fill(name)
    page.locator("[name=password]").fill(PASSWORD)
    page.locator("main button[type=submit]").click()
    page.wait_for_url(lambda url: "sign-in" not in url)
    return page


def picture(page: Page, name: str, *, whole: bool = False) -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=PICTURES / f"{name}.png", full_page=whole)
    print(f"{name}.png")  # noqa: T201 (a command)


def link(page: Page, text: str) -> None:
    page.get_by_role("link", name=text).first.click()


def student_pictures(browser: Browser, base: str) -> None:
    page = signed_in(browser, base, "student01")
    picture(page, "student-work")
    page = signed_in(browser, base, WRITES_A_PLAN)
    page.locator("main tr").filter(has_text=VINEGAR).get_by_role("link").first.click()
    link(page, "Plan")
    if not page.locator("#plan .step").count():
        raise LookupError(f"the plan of {WRITES_A_PLAN} is empty")
    picture(page, "student-plan")


def bench_pictures(browser: Browser, base: str) -> None:
    page = signed_in(browser, base, "student07", width=420)
    page.locator("main a[href*='/bench/']").first.click()
    picture(page, "student-bench")


def teaching_pictures(browser: Browser, base: str) -> None:
    page = signed_in(browser, base, "ta1")
    link(page, "Review")
    picture(page, "ta-queue")
    page.locator("main a[href*='/review/']").first.click()
    picture(page, "ta-report")
    page = signed_in(browser, base, "instructor")
    picture(page, "instructor-course")
    link(page, "Exercises")
    page.locator("main a[href^='/exercises/']").first.click()
    picture(page, "instructor-exercise")
    link(page, "Exercises")
    link(page, "Add an exercise")
    page.get_by_label("Bottom layer").check()
    page.get_by_role("button", name="Look at it").click()
    link(page, "Edit in the form")
    link(page, "Model plan")
    page.get_by_role("heading", name="Expected").wait_for()
    picture(page, "instructor-form")


def main() -> None:
    with served_demo() as base, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=find_chromium(), args=chromium_flags())
        student_pictures(browser, base)
        bench_pictures(browser, base)
        teaching_pictures(browser, base)
        browser.close()


if __name__ == "__main__":
    main()
