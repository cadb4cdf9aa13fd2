"""Debian's Chromium: where it is, and the flags it is started with."""

from __future__ import annotations

import os
import shutil

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
CHROMIUM_FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def find_chromium() -> str | None:
    """Its path, or None where it is not installed."""
    return next((path for name in CHROMIUM_NAMES if (path := shutil.which(name))), None)


def chromium_flags() -> list[str]:
    """Flags for a machine without a screen; root needs one more."""
    return [*CHROMIUM_FLAGS, *(["--no-sandbox"] if os.geteuid() == 0 else [])]
