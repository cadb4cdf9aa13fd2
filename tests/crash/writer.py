"""Clients that send as the pages do: again, with the same token, until they are told it is kept."""

import re
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from http.client import HTTPConnection, HTTPException
from urllib.parse import urlencode
from uuid import UUID, uuid4, uuid5

CSRF = "c" * 32
WEIGHINGS = "bench/entries/weighing/hexyl_acetate/"
KEPT = frozenset({200, 302})


class Browser:
    """One signed-in student; None for an answer that did not come."""

    def __init__(self, port: int, session: str) -> None:
        self.port = port
        self.headers = {"Cookie": f"sessionid={session}; csrftoken={CSRF}", "HX-Request": "true"}

    def get(self, path: str) -> str | None:
        status, body = self.ask("GET", path, None)
        return body if status == 200 else None

    def post(self, path: str, fields: dict[str, str]) -> bool:
        """Whether the server said that it is kept."""
        return self.ask("POST", path, form_of(fields))[0] in KEPT

    def ask(self, method: str, path: str, body: str | None = None) -> tuple[int, str]:
        """Status and text; status 0 where no answer came."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=25)
        headers = {**self.headers, "Content-Type": "application/x-www-form-urlencoded"}
        try:
            connection.request(method, path, body, headers)
            with connection.getresponse() as answer:
                return answer.status, answer.read().decode()
        except (OSError, HTTPException):
            return 0, ""
        finally:
            connection.close()


def form_of(fields: dict[str, str]) -> str:
    """Fields as a form sends them, with the token against forged requests."""
    return urlencode({"csrfmiddlewaretoken": CSRF, **fields})


class Writer(threading.Thread):
    """Sends `count` writes one after the other; `kept` are those the server acknowledged."""

    def __init__(self, count: int, send: Callable[[int], str | None], end: float) -> None:
        super().__init__(daemon=True)
        self.count, self.send, self.end = count, send, end
        self.kept: list[str] = []
        self.unanswered = 0

    def run(self) -> None:
        for number in range(self.count):
            while time.monotonic() < self.end:
                kept = self.send(number)
                if kept is not None:
                    self.kept.append(kept)
                    break
                self.unanswered += 1
                time.sleep(0.05)


def weighing(mass: str, token: str) -> dict[str, str]:
    fields = {"kind": "gross", "mass": mass, "on_pan": "flask"}
    return {**fields, "client_token": token}


def reading_sender(browser: Browser, work: str) -> Callable[[int], str | None]:
    """Weighings, each with a token and value of its own: "token value".

    The form's token makes one for each entry of the form; a weighing is entry 0.
    """
    tokens: dict[int, str] = {}

    def send(number: int) -> str | None:
        token = tokens.setdefault(number, str(uuid4()))
        mass = f"{40 + number / 100:.2f}"
        kept = browser.post(f"/work/{work}/{WEIGHINGS}", weighing(mass, token))
        return f"{uuid5(UUID(token), '0')} {mass}" if kept else None

    return send


def plan_sender(browser: Browser, work: str) -> Callable[[int], str | None]:
    """Changes of one step's text, from the version that the page was showing."""
    shown: dict[int, str] = {}

    def send(number: int) -> str | None:
        page = None if number in shown else browser.get(f"/work/{work}/plan/?step=s1")
        if page is not None:
            with suppress(AttributeError):
                shown[number] = re.search(r'name="version" value="(\d+)"', page)[1]  # type: ignore[index]
        if number not in shown:
            return None
        text = f"save {number}"
        fields = {"do": "edit:s1", "flask": "reaction flask", "text": text}
        fields["version"] = shown[number]
        kept = browser.post(f"/work/{work}/plan/", fields)
        return text if kept else None

    return send
