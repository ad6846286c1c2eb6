"""What the kitchen refuses, each refusal with a code and a remedy. Each app adds its own kinds in its rules."""

from __future__ import annotations

from typing import ClassVar


class KitchenError(Exception):
    """Base of every refusal: what is wrong, in the kitchen's words, and what to do about it."""

    code: ClassVar[str] = "kitchen-error"

    def __init__(self, message: str, *, remedy: str) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}".strip()


class NotAllowed(KitchenError):
    """The person may not do this here."""

    code = "not-allowed"


class Refused(KitchenError):
    """A figure or a time that cannot be right."""

    code = "refused"
