"""Walks all that a signed-in person can reach: links, named pages, live parts, refused forms."""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from io import BytesIO
from urllib.parse import urldefrag, urljoin, urlsplit

from django.http import HttpResponse
from django.test import Client
from django.urls import NoReverseMatch, Resolver404, get_resolver, resolve, reverse
from django.urls.resolvers import URLPattern
from pypdf import PdfReader

from tests.sheets.pdf_text import pages_of

LINKS = ("href", "src", "action", "hx-get", "hx-post", "data-url", "data-src")
HTMX = {"HX-Request": "true"}
# Sending these, even empty, moves the work on; or ends the session.
MOVES_ON = frozenset(
    {"start-bench", "lock-readings", "self-check", "sign-out", "set-colour-scheme", "submit-report"}
)


@dataclass(frozen=True)
class Seen:
    """One answer: where, and all that it said: body as text, headers, a PDF's text and facts."""

    where: str
    status: int
    text: str


class LinkReader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.links: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links.update(value for name, value in attrs if name in LINKS and value)


def named_patterns() -> Iterator[URLPattern]:
    """Every URL pattern of the program."""
    waiting = list(get_resolver().url_patterns)
    while waiting:
        pattern = waiting.pop()
        if isinstance(pattern, URLPattern):
            yield pattern
        else:
            waiting.extend(pattern.url_patterns)


def named_urls(arguments: dict[str, list[object]]) -> Iterator[tuple[str, str]]:
    """Name and address of every pattern that these arguments fill."""
    for pattern in named_patterns():
        fillings: list[dict[str, object]] = [{}]
        for key in pattern.pattern.converters:
            fillings = [{**f, key: v} for f in fillings for v in arguments.get(key, [])]
        for filling in fillings:
            try:
                yield str(pattern.name), reverse(str(pattern.name), kwargs=filling)
            except NoReverseMatch:
                continue


def walk(client: Client, arguments: dict[str, list[object]], per_kind: int = 3) -> list[Seen]:
    """What all pages say: as page, as live part, and sent empty."""
    seen = []
    for url, page in walk_pages(client, arguments, per_kind):
        seen.append(as_seen(url, page))
        if is_html(page):
            seen.append(as_seen(f"{url} (live)", client.get(url, headers=HTMX)))
        if page.status_code in (200, 405) and name_of(url) not in MOVES_ON and is_html(page):
            seen.append(as_seen(f"{url} (sent empty)", client.post(url, {})))
    return seen


def walk_pages(
    client: Client,
    arguments: dict[str, list[object]],
    per_kind: int = 3,
    leave: Callable[[str], bool] = lambda _: False,
) -> Iterator[tuple[str, HttpResponse]]:
    """Address and answer: named pages first, then whatever they link to.

    Of pages that differ only in a step, version or reading, `per_kind` are looked at; an address
    for which `leave` is true is not.
    """
    waiting, known = ["/"], {"/"}
    kinds: Counter[str] = Counter()
    offer(waiting, known, kinds, per_kind, [url for _, url in named_urls(arguments)])
    while waiting:
        url = waiting.pop()
        if leave(url):
            continue
        page = client.get(url)
        yield url, page
        offer(waiting, known, kinds, per_kind, sorted(links_of(url, page)))


def offer(
    waiting: list[str], known: set[str], kinds: Counter[str], per_kind: int, urls: list[str]
) -> None:
    """Put addresses not yet known in the queue, `per_kind` of each named page at most."""
    for url in urls:
        name = name_of(url)
        if url in known or not name or name == "sign-out":
            continue
        known.add(url)
        kinds[name] += 1
        if kinds[name] <= per_kind:
            waiting.append(url)


def name_of(url: str) -> str:
    """The name of the page at an address; empty where there is none of ours (static files)."""
    try:
        return resolve(urlsplit(url).path).url_name or ""
    except Resolver404:
        return ""


def is_html(page: HttpResponse) -> bool:
    return page.headers.get("Content-Type", "").startswith("text/html")


def links_of(url: str, page: HttpResponse) -> set[str]:
    """Addresses on this site that a page, or the header of a redirect, leads to."""
    reader = LinkReader()
    if is_html(page):
        reader.feed(page.content.decode())
    found = {*reader.links, page.headers.get("Location", url)}
    whole = (urldefrag(urljoin(f"http://testserver{url}", link))[0] for link in found)
    parts = (urlsplit(link) for link in whole)
    return {
        f"{p.path}?{p.query}" if p.query else p.path
        for p in parts
        if p.netloc == "testserver"
    }


def as_seen(where: str, page: HttpResponse) -> Seen:
    content = b"".join(page.streaming_content) if page.streaming else page.content
    headers = "\n".join(f"{n}: {v}" for n, v in page.headers.items() if n != "Content-Length")
    kind = page.headers.get("Content-Type", "")
    body = pdf_text(content) if kind == "application/pdf" else content.decode()
    return Seen(where, page.status_code, f"{headers}\n{body}")


def pdf_text(content: bytes) -> str:
    """Every page's text, the document's facts, and what is attached."""
    reader = PdfReader(BytesIO(content))
    facts = [f"{name} {value}" for name, value in (reader.metadata or {}).items()]
    attached = list(reader.attachments)
    return "\n".join([*pages_of(content), *facts, *attached])
