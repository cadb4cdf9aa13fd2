"""The document that an exercise begins as when it begins as nothing."""

from .toml_text import VERSION

BLANK_EXERCISE = f"""# A workup exercise of our own making.
# `python manage.py format_schema exercise` explains every key.

document = "exercise"
version = {VERSION}
"""
