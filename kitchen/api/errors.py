"""What the API refuses by itself, beside what the kitchen refuses."""

from __future__ import annotations

from rest_framework.exceptions import APIException


class Refused(APIException):
    """Base: ``status_code``, a code for programs and words for people."""

    def __init__(self, detail: str | None = None) -> None:
        super().__init__(detail or self.default_detail, self.default_code)


class TokenTooNarrow(Refused):
    """The token was made for something else."""

    status_code = 403
    default_code = "token-too-narrow"
    default_detail = "This token does not open that. Make one that does, on the page of tokens."


class VersionMissing(Refused):
    """A change without ``If-Match``."""

    status_code = 428
    default_code = "version-missing"
    default_detail = "Send the ETag of what you read in the header If-Match, so that nobody's change is lost."


class VersionPassed(Refused):
    """``If-Match`` names what is no longer so."""

    status_code = 412
    default_code = "version-passed"
    default_detail = "It was changed since you read it. Read it again, then decide."


class KeyMissing(Refused):
    """A booking or an intake without ``Idempotency-Key``."""

    status_code = 400
    default_code = "key-missing"
    default_detail = (
        "Send a new random value in the header Idempotency-Key, and the same again if you try again."
    )


class KeyUnreadable(Refused):
    """An ``Idempotency-Key`` that is empty, too long or no plain text."""

    status_code = 400
    default_code = "key-unreadable"
    default_detail = "An Idempotency-Key is made of 1 to 200 visible ASCII characters."


class KeyUsedOtherwise(Refused):
    """The same ``Idempotency-Key`` with another payload."""

    status_code = 422
    default_code = "key-used-otherwise"
    default_detail = "This Idempotency-Key was sent with another request before. Use a new one."


class KeyInUse(Refused):
    """A request with the same ``Idempotency-Key`` is still being answered."""

    status_code = 409
    default_code = "key-in-use"
    default_detail = "A request with this Idempotency-Key is under way. Ask again in a few seconds."
