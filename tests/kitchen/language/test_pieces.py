"""A kept piece of a page is found again for the same facts and reader alone, and a cache that is down takes nothing."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from django.core.cache import caches
from django.test import override_settings

from kitchen.configuration.broker import caches as cache_settings
from kitchen.language import pieces
from kitchen.language.person import written_for
from kitchen.language.pieces import kept_forms, kept_piece, kept_text

DENVER = ZoneInfo("America/Denver")
NO_LOAD = UUID(int=1)
AFTER_A_LEAK = "another key"
NOON = datetime(2026, 9, 12, 18, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _nothing_kept() -> None:
    caches[pieces.CACHE].clear()


def there(name: str, zone: ZoneInfo = DENVER) -> str:
    rows = [(name, NOON, NOON)]
    return kept_piece("rota/there.html", rows, lambda: {"there": rows}, zone)


def test_what_is_kept_is_not_written_again() -> None:
    first = there("Tansy")
    assert "Tansy" in first
    assert kept_piece("rota/there.html", [("Tansy", NOON, NOON)], dict, DENVER) == first


def test_other_facts_another_zone_and_another_template_are_other_pieces() -> None:
    assert "12:00" in there("Tansy")
    assert "<b>Sorrel" not in there("<b>Sorrel")
    assert "Sorrel" in there("<b>Sorrel")
    assert "18:00" in there("Tansy", ZoneInfo("UTC"))
    assert kept_text("a", 1, lambda: "of a") == "of a"
    assert kept_text("b", 1, lambda: "of b") == "of b"


def test_another_language_and_other_units_are_other_pieces() -> None:
    def of(language: str, units: str) -> str:
        with written_for(language, units):
            return kept_text("name", "facts", lambda: f"{language} {units}")

    for reader in (("en", "us"), ("es", "us"), ("en", "metric"), ("en", "us")):
        assert of(*reader) == " ".join(reader)


def test_a_form_gets_its_readers_secret_also_after_the_key_was_changed() -> None:
    def form(secret: str) -> str:
        return kept_forms(secret, "floor/hold.html", 1, lambda: {"kitchen": kitchen, "load": load}, DENVER)

    kitchen, load = {"slug": "tansy-yard"}, {"uuid": NO_LOAD, "number": 1}
    assert 'name="csrfmiddlewaretoken" value="of-one"' in form("of-one")
    assert 'name="csrfmiddlewaretoken" value="of-another"' in form("of-another")
    with override_settings(SECRET_KEY=AFTER_A_LEAK):
        assert 'name="csrfmiddlewaretoken" value="of-one"' in form("of-one")


def test_another_release_writes_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    assert kept_text("name", "facts", lambda: "old") == "old"
    monkeypatch.setattr(pieces, "program_digest", lambda: "another")
    assert kept_text("name", "facts", lambda: "new") == "new"


@override_settings(CACHES=cache_settings("redis://127.0.0.1:1/0"))  # Where nobody answers.
def test_a_cache_that_is_down_has_every_piece_written_anew() -> None:
    assert kept_text("name", "facts", lambda: "first") == "first"
    assert kept_text("name", "facts", lambda: "second") == "second"


def test_pieces_push_out_no_count_of_attempts() -> None:
    caches["default"].set("count", 3)
    for number in range(1_200):
        kept_text("name", number, lambda: "words")
    assert caches["default"].get("count") == 3
    assert len({id(caches[name]) for name in ("default", pieces.CACHE)}) == 2
