"""What a student's page costs over the wire with nothing in the cache, and whether it jumps.

The program runs as in production: files hashed and packed beforehand, pages packed as they go.
The figures are Chromium's own count of bytes received, headers included.
"""

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from tests.browser.conftest import session_cookie
from tests.browser.server import Server
from tests.web.review.reports import put_out
from workups.models import Assignment
from workups.services.reports import lock_readings
from workups.services.self_checks import self_check

LIMIT_BYTES = 100_000
PHONE = {"width": 360, "height": 740}
LAYOUT_SHIFT = """() => new Promise(resolve => {
  let sum = 0;
  new PerformanceObserver(list => list.getEntries().forEach(
    entry => { if (!entry.hadRecentInput) sum += entry.value; })
  ).observe({type: "layout-shift", buffered: true});
  setTimeout(() => resolve(sum), 700);
})"""
pytestmark = pytest.mark.timeout(180)


@pytest.fixture
def production(transactional_db, tmp_path):
    server = Server(
        {
            "LABCOURSE_MODE": "production",
            "SECRET_KEY": settings.SECRET_KEY,
            "ALLOWED_HOSTS": "localhost",
            "BEHIND_HTTPS_PROXY": "true",
            "EMAIL_HOST": "localhost",
            "DEFAULT_FROM_EMAIL": "Labcourse <labcourse@larkmoor.example>",
            "STATIC_ROOT": str(tmp_path / "static"),
        }
    )
    server.manage("collectstatic", "--no-input")
    server.start()
    yield server
    server.kill()


@pytest.fixture
def weigh_page(browser, production, student):
    """Bytes over the wire and the layout shift of a page, in a browser that has seen nothing."""

    def weigh(path):
        context = browser.new_context(
            base_url=production.url,
            viewport=PHONE,
            service_workers="block",
            extra_http_headers={"X-Forwarded-Proto": "https"},
        )
        context.add_cookies([production_cookie(student, production.url)])
        page = context.new_page()
        session = context.new_cdp_session(page)
        received = []
        session.on("Network.loadingFinished", lambda e: received.append(e["encodedDataLength"]))
        session.send("Network.enable")
        response = page.goto(path, wait_until="networkidle")
        assert response.status == 200, path
        assert response.headers["content-encoding"] == "gzip"
        shift = page.evaluate(LAYOUT_SHIFT)
        context.close()
        assert len(received) >= 3, "page, styles and script at least"
        return sum(received), shift

    return weigh


def production_cookie(person, url):
    """As session_cookie, under the name and with the mark that production gives it."""
    made = session_cookie(person, url.replace("http:", "https:"))
    return made | {"name": f"__Host-{made['name']}", "secure": True}


def assert_light_and_still(weigh_page, name, work, *args):
    size, shift = weigh_page(reverse(name, args=[work.public_id, *args]))
    print(f"{name}: {size} bytes")  # noqa: T201
    assert size <= LIMIT_BYTES, name
    assert shift == pytest.approx(0, abs=0.001), name


def test_pages_before_and_at_the_bench(weigh_page, bench_work, student):
    self_check(actor=student, work=bench_work)
    for name, args in (
        ("show-work", ()),
        ("fill-reagents", ()),
        ("build-plan", ()),
        ("show-self-check", (1,)),
        ("show-bench", ()),
        ("show-offline-bench", ()),
        ("record-entry", ("change", "wash-water")),
    ):
        assert_light_and_still(weigh_page, name, bench_work, *args)


def test_the_report_with_everything_shown(weigh_page, bench_work, student, assignment):
    lock_readings(actor=student, record=bench_work.bench_record)
    put_out(bench_work)
    Assignment.objects.filter(pk=assignment.pk).update(results_opened_at=timezone.now())
    assert_light_and_still(weigh_page, "show-report", bench_work)
