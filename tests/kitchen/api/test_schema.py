"""The schema: valid, kept with the program, and told to whoever asks."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.test import Client

KEPT = Path(settings.BASE_DIR) / "kitchen" / "api" / "openapi.yaml"


@pytest.fixture(scope="module")
def made() -> str:
    """The schema as the views have it, checked against the standard; a warning fails."""
    out = StringIO()
    call_command("spectacular", validate=True, fail_on_warn=True, stdout=out)
    return out.getvalue()


def test_the_kept_schema_is_the_schema(made: str) -> None:
    """If not: ``python -m kitchen spectacular --validate --fail-on-warn --file kitchen/api/openapi.yaml``."""
    assert made.strip() == KEPT.read_text().strip()


def test_the_schema_is_told_to_anybody() -> None:
    answer = Client().get("/api/v1/schema")
    assert answer.status_code == 200
    assert answer.content.decode() == KEPT.read_text()
    assert answer.headers["Content-Type"] == "application/yaml"
