"""What a code is made of, and how long it holds."""

from __future__ import annotations

import secrets
from datetime import timedelta
from uuid import UUID

from django.utils.crypto import salted_hmac

LETTERS = "BCDFGHJKLMNPQRSTVWXZ"
"""No vowels, so that no word comes out, and nothing that looks like a figure."""
LENGTH = 8
"""Twenty-six thousand million codes. Six figures would do while requests are counted, but a cache that does not answer
counts nothing (``http/counting``): even a million messages of which each code is tried five times find one in five
thousand of these, and they would find every code of six figures.
"""
HOLDS = timedelta(minutes=10)
"""From asking to typing. OWASP ASVS 5.0.0, 6.5.5: ten minutes at most for what is sent by another way."""


def make_code() -> str:
    """A code that nobody has seen."""
    return "".join(secrets.choice(LETTERS) for _ in range(LENGTH))


def as_written(code: str) -> str:
    """In two halves, as it stands in a message."""
    return f"{code[: LENGTH // 2]}-{code[LENGTH // 2 :]}"


def as_typed(text: str) -> str:
    """The letters of what somebody typed, in whatever case and however divided."""
    return "".join(letter for letter in text.upper() if letter.isalpha())


def digest_of(uuid: UUID, code: str) -> str:
    """What is kept of a code. Without the secret key, which no backup holds, trying all codes does not find it."""
    return salted_hmac("kitchen.entrance.code", f"{uuid}:{code}", algorithm="sha256").hexdigest()
