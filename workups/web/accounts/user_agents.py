"""A browser and its system in plain words. Only words of ours come out, whatever was sent."""

# The first that stands in the header counts: most browsers name others behind their own name.
BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser/", "Samsung Internet"),
    ("FxiOS/", "Firefox"),
    ("Firefox/", "Firefox"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome or Chromium"),  # both say the same
    ("Safari/", "Safari"),
)
SYSTEMS = (
    ("Windows", "Windows"),
    ("Android", "Android"),
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Macintosh", "macOS"),
    ("CrOS", "ChromeOS"),
    ("Linux", "Linux"),
)


def device_words(user_agent: str) -> str:
    """Such as "Firefox on Windows"."""
    browser = _first(BROWSERS, user_agent) or "Unknown browser"
    system = _first(SYSTEMS, user_agent)
    return f"{browser} on {system}" if system else browser


def _first(names: tuple[tuple[str, str], ...], user_agent: str) -> str:
    return next((words for sign, words in names if sign in user_agent), "")
