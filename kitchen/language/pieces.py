"""Pieces of pages that are written once and kept, each under everything that it is written from.

A plan as a table or a rota by the hour takes long to write and is read many times as it is. What is kept is found by
a digest of the facts in it, the language, the units and the zone, and of the program itself: other facts make another
piece, so nothing old is ever shown and nothing needs to be thrown away in time. Whoever asks has read the facts first,
and has settled that this person may see them.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator, Mapping
from datetime import tzinfo
from functools import cache
from hashlib import sha256
from pathlib import Path

import structlog
from django.core.cache import caches
from django.db.models import Model
from django.template.loader import render_to_string
from django.utils import timezone, translation
from django.utils.crypto import salted_hmac
from django.utils.safestring import SafeString, mark_safe
from redis.exceptions import RedisError

from kitchen.language.person import units_in_use

log = structlog.get_logger(__name__)

CACHE = "pieces"
"""Apart from where attempts are counted: pieces push each other out, and must not push out a count."""

_PROGRAM = Path(__file__).resolve().parents[2]
_WRITTEN_WITH = (
    "kitchen/**/*.py",
    "kitchen/templates/**/*.html",
    "kitchen/locale/**/*.mo",
    "scheduler/**/*.py",
)


def kept_piece(
    template: str, facts: object, context: Callable[[], Mapping[str, object]], zone: tzinfo
) -> SafeString:
    """What the template gives for this context in the zone's times, for whoever reads the page.

    ``facts`` are plain values that tell everything the context is made of, and only they may go into it: no request, no
    secret of a form, no time of day. The context is not asked for when the piece is kept already.
    """

    def write() -> str:
        with timezone.override(zone):
            return render_to_string(template, dict(context()))

    return mark_safe(kept_text(template, (str(zone), facts), write))  # noqa: S308  # It is what a template gave.


def kept_forms(
    secret: str,
    template: str,
    facts: object,
    context: Callable[[], Mapping[str, object]],
    zone: tzinfo,
) -> SafeString:
    """Likewise, with forms in it. Their ``secret`` is each reader's own: it is put in afterwards and never kept."""
    mark = _token_mark()
    # The mark is among the facts: with another secret key it is another one, and what was kept with the old is not met.
    text = kept_piece(template, (mark, facts), lambda: {**context(), "csrf_token": mark}, zone)
    return mark_safe(text.replace(mark, secret))  # noqa: S308  # It is what a template gave.


def _token_mark() -> str:
    """What stands for that secret while a piece is kept: nobody can write it into a text of their own."""
    return salted_hmac("kitchen.language.pieces", "the secret of a form").hexdigest()


def columns_of(row: Model) -> tuple[object, ...]:
    """Everything that a row holds itself, as facts: whatever of it is shown then makes another piece."""
    return tuple(getattr(row, field.attname) for field in row._meta.concrete_fields)


def kept_text(name: str, facts: object, write: Callable[[], str]) -> str:
    """The text that is written from these facts, in the reader's language and units; ``name`` says what writes it.

    It is written anew when the cache does not answer.
    """
    told = repr((name, translation.get_language(), units_in_use().value, facts))
    key = sha256(f"{program_digest()}:{told}".encode()).hexdigest()
    if (known := _known(key)) is not None:
        return known
    text = write()
    _keep(key, text)
    return text


def _known(key: str) -> str | None:
    try:
        packed = caches[CACHE].get(key)
    except RedisError as error:
        log.warning("piece_not_looked_up", reason=type(error).__name__)
        return None
    return None if packed is None else zlib.decompress(packed).decode()


def _keep(key: str, text: str) -> None:
    try:
        caches[CACHE].set(key, zlib.compress(text.encode(), level=1))
    except RedisError as error:
        log.warning("piece_not_kept", reason=type(error).__name__)


@cache
def program_digest() -> str:
    """A digest of the program as this process found it: a new release writes its pieces anew."""
    digest = sha256()
    for path in _sources():
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _sources() -> Iterator[Path]:
    for pattern in _WRITTEN_WITH:
        yield from sorted(_PROGRAM.glob(pattern))
