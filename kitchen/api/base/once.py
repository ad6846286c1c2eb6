"""``Idempotency-Key``: a request that is sent again does nothing and gets the same answer."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from hashlib import sha256

from django.db import IntegrityError, OperationalError, connection, transaction
from django.utils import timezone
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.errors import KeyInUse, KeyMissing, KeyUnreadable, KeyUsedOtherwise
from kitchen.api.models import KeptAnswer
from kitchen.equipment.canner_time import booking
from kitchen.members.models import User

HEADER = "Idempotency-Key"
KEPT_FOR = timedelta(days=7)
"""So long an answer is kept: whoever had none for a week has asked otherwise. Common practice, no source."""
_LONGEST = 200
_PATIENCE_SECONDS = 5
_LOCK_NOT_AVAILABLE = "55P03"


def once(request: Request, user: User, do: Callable[[], Response], *, needed: bool) -> Response:
    """Do it and keep the answer under the request's key, in one transaction; or give the answer kept before.

    ``do`` may be called more than once, when the database broke a booking off because of others. What was refused
    leaves nothing behind, so it may be tried again with the same key. Whoever sends the same at once waits for the
    first, for a few seconds.
    """
    key = request.headers.get(HEADER)
    if key is None:
        if needed:
            raise KeyMissing
        return do()
    if not 0 < len(key) <= _LONGEST or not key.isascii() or not key.isprintable():
        raise KeyUnreadable
    return booking(_kept)(request, user, key, do)


def _kept(request: Request, user: User, key: str, do: Callable[[], Response]) -> Response:
    fingerprint = _fingerprint(request)
    kept = _begin(user, key, fingerprint)
    if kept is None:
        before = KeptAnswer.objects.get(user=user, key=key)
        if before.fingerprint != fingerprint:
            raise KeyUsedOtherwise
        return Response(
            json.loads(before.body), status=before.status, headers={"Idempotency-Replayed": "true"}
        )
    response = do()
    kept.status, kept.body = response.status_code, JSONRenderer().render(response.data).decode()
    kept.save(update_fields=["status", "body"])
    return response


def _begin(user: User, key: str, fingerprint: str) -> KeptAnswer | None:
    """A row for this key; None when there is one. Waits for a request with the same key that is under way."""
    now = timezone.now()
    KeptAnswer.objects.filter(user=user, kept_at__lt=now - KEPT_FOR).delete()
    try:
        with transaction.atomic(), _impatient():
            return KeptAnswer.objects.create(user=user, key=key, fingerprint=fingerprint, kept_at=now)
    except IntegrityError:
        return None
    except OperationalError as error:
        if getattr(error.__cause__, "sqlstate", None) == _LOCK_NOT_AVAILABLE:
            raise KeyInUse from error
        raise


class _impatient:
    """Within, PostgreSQL gives up waiting after a few seconds. SQLite has one writer at a time anyway."""

    def __enter__(self) -> None:
        self._say(f"{_PATIENCE_SECONDS}s")

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is None:  # Otherwise the savepoint takes it back.
            self._say("0")

    def _say(self, limit: str) -> None:
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SELECT set_config('lock_timeout', %s, true)", [limit])


def _fingerprint(request: Request) -> str:
    said = json.dumps([request.method, request.path, request.data], sort_keys=True, default=str)
    return sha256(said.encode()).hexdigest()
