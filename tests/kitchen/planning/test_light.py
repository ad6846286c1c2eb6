"""A process that only shows plans does not load the search."""

from __future__ import annotations

import subprocess
import sys

LOAD_EVERY_PAGE = """
import sys
import django
django.setup()
import kitchen.urls
print(sorted({name.partition(".")[0] for name in sys.modules} & {"numba", "ortools"}))
"""


def test_the_pages_do_without_the_compiled_search() -> None:
    answer = subprocess.run(
        [sys.executable, "-c", LOAD_EVERY_PAGE],
        capture_output=True,
        text=True,
        check=True,
        env={"DJANGO_SETTINGS_MODULE": "tests.settings", "PATH": ""},
    )
    assert answer.stdout.strip() == "[]"
