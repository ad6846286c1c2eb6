"""A message as it goes out, signed as the open specification *Standard Webhooks* 1.0 has it."""

from __future__ import annotations

import base64
import hmac
import json
from datetime import UTC, datetime
from hashlib import sha256

from django.conf import settings
from django.urls import reverse
from django.utils.crypto import salted_hmac

from kitchen.hooks.models import Hook, Telling

_SALT = "kitchen.hooks"


def secret_of(hook: Hook) -> str:
    """What the other program checks signatures with; to be shown once."""
    return f"whsec_{base64.b64encode(_key(hook)).decode()}"


def body_of(telling: Telling) -> bytes:
    """The message. It names no person: a program that may know more asks the API."""
    hook, reminder = telling.hook, telling.reminder
    data: dict[str, object] = {"kitchen": str(hook.kitchen.uuid)}
    kind = "trial"
    if reminder is not None and reminder.portion is not None:
        portion, load = reminder.portion, reminder.portion.load
        kind = f"jars.{reminder.kind}"
        data |= {
            "reminder": str(reminder.pk),
            "due_at": _instant(reminder.due_at),
            "jars_out_at": _instant(reminder.jars_out_at),
            "process_again_by": _instant(reminder.reprocess_by),
            "lot_code": load.lot_code,
            "canner": load.canner.name,
            "jars": portion.jars,
            "jar": portion.batch.jar,
            "food": portion.batch.food_name,
            "on_hold": load.on_hold,
            "page": settings.KITCHEN_URL + reverse("seals:check", args=[hook.kitchen.slug, portion.uuid]),
        }
    told = {"type": kind, "timestamp": _instant(telling.created_at), "data": data}
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode()


def headers_of(telling: Telling, body: bytes, at: datetime) -> dict[str, str]:
    """Who it is from and when: the same id at every attempt, and a signature over id, time and body."""
    name, seconds = f"msg_{telling.pk.hex}", str(int(at.timestamp()))
    signed = b".".join((name.encode(), seconds.encode(), body))
    signature = base64.b64encode(hmac.digest(_key(telling.hook), signed, sha256)).decode()
    return {
        "Content-Type": "application/json",
        "webhook-id": name,
        "webhook-timestamp": seconds,
        "webhook-signature": f"v1,{signature}",
    }


def _key(hook: Hook) -> bytes:
    return salted_hmac(_SALT, f"{hook.uuid}:{hook.secrets_made}", algorithm="sha256").digest()


def _instant(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
