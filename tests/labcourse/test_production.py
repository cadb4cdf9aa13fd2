"""The settings as a department runs them, in a process of their own."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SECRET = "only-for-this-test-0123456789-abcdefghijklmnopqrstuvwxyz-ABCDEFGH"
CHECK = ("check", "--deploy", "--fail-level", "WARNING")


def example_environment(tmp_path, **changes):
    """.env.example's values, with a secret, in this test's own folder."""
    lines = (ROOT / ".env.example").read_text(encoding="utf-8").splitlines()
    pairs = (re.fullmatch(r"([A-Z_]+)=(.*)", line) for line in lines)
    values = {pair[1]: pair[2].strip('"') for pair in pairs if pair}
    values |= {"SECRET_KEY": SECRET, "LOCAL_DIR": str(tmp_path), "PATH": os.environ["PATH"]}
    return values | changes


def manage(environment, *arguments):
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_djangos_own_deployment_check_finds_nothing(tmp_path):
    done = manage(example_environment(tmp_path), *CHECK)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


@pytest.mark.parametrize(
    "name", ["SECRET_KEY", "ALLOWED_HOSTS", "EMAIL_HOST", "DEFAULT_FROM_EMAIL"]
)
def test_production_starts_with_nothing_left_unsaid(tmp_path, name):
    done = manage(example_environment(tmp_path, **{name: ""}), *CHECK)
    assert done.returncode != 0
    assert f"{name} must be set" in done.stderr


def test_debug_pages_are_never_shown_in_production(tmp_path):
    code = "from django.conf import settings; print('DEBUG', settings.DEBUG)"
    done = manage(example_environment(tmp_path, DEBUG="true"), "shell", "-v", "0", "-c", code)
    assert "DEBUG False" in done.stdout, done.stderr


def test_static_files_are_collected_under_names_that_change_with_their_content(tmp_path):
    done = manage(example_environment(tmp_path), "collectstatic", "--no-input")
    assert done.returncode == 0, done.stderr
    assert list((tmp_path / "static" / "css").glob("labcourse.*.css.br"))


def test_cookies_are_tied_to_this_host(tmp_path):
    """The prefix holds only with Secure, Path=/ and no Domain."""
    names = ("COOKIE_NAME", "COOKIE_SECURE", "COOKIE_PATH", "COOKIE_DOMAIN", "COOKIE_HTTPONLY")
    code = "from django.conf import settings as s\n" + "".join(
        f"print([getattr(s, '{kind}_' + n) for n in {names}])\n" for kind in ("SESSION", "CSRF")
    )
    done = manage(example_environment(tmp_path), "shell", "-v", "0", "-c", code)
    assert done.stdout.splitlines() == [
        "['__Host-sessionid', True, '/', None, True]",
        "['__Host-csrftoken', True, '/', None, True]",
    ]
