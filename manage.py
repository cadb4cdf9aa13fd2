#!/usr/bin/env python
"""Run Labcourse's commands: `python manage.py help` lists them."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcourse.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError as error:
        raise SystemExit(
            "Django is not installed for this Python. Run `bash .ci/setup` first, "
            "then use `.venv/bin/python manage.py`."
        ) from error
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
