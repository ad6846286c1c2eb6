"""The protocol of passkeys (WebAuthn level 2), as the library speaks it: questions for a browser, and its answers.

The kitchen's name in it is the host of its own address; another address, or another site, gets no answer that holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from urllib.parse import urlsplit

import webauthn
from django.conf import settings
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from kitchen.entrance.models import Passkey
from kitchen.errors import NotAllowed
from kitchen.members.models import User

LONGEST_ANSWER = 20_000
"""Letters of a browser's answer. Without an attestation, which nobody asks for, one has about a thousand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What a browser is asked, as JSON, and the challenge in it that its answer must hold."""

    options: str
    challenge: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NewKey:
    """What an answer tells of a passkey that was made."""

    credential_id: str
    public_key: str
    sign_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Which passkey an answer says that it comes from. Nothing of it is proven yet."""

    credential_id: str
    user_handle: bytes


def ask_for_new(user: User) -> Question:
    """Ask for a passkey that needs no name typed and makes sure of its person; not for one that they have already."""
    options = webauthn.generate_registration_options(
        rp_id=_host(),
        rp_name=_host(),
        user_id=user.uuid.bytes,
        user_name=user.email,
        user_display_name=str(user),
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.REQUIRED,
            user_verification=UserVerificationRequirement.REQUIRED,
        ),
        exclude_credentials=[
            PublicKeyCredentialDescriptor(id=base64url_to_bytes(one.credential_id))
            for one in Passkey.objects.filter(user=user)
        ],
    )
    return Question(
        options=webauthn.options_to_json(options), challenge=bytes_to_base64url(options.challenge)
    )


def ask_for_any() -> Question:
    """Ask for whichever passkey of this kitchen somebody has."""
    options = webauthn.generate_authentication_options(
        rp_id=_host(), user_verification=UserVerificationRequirement.REQUIRED
    )
    return Question(
        options=webauthn.options_to_json(options), challenge=bytes_to_base64url(options.challenge)
    )


def check_new(answer: str, challenge: str) -> NewKey:
    """The passkey that was made for this challenge. Refused when the answer is another's, or was made elsewhere."""
    with _refusing():
        found = webauthn.verify_registration_response(
            credential=_short(answer),
            expected_challenge=base64url_to_bytes(challenge),
            expected_rp_id=_host(),
            expected_origin=settings.KITCHEN_URL,
            require_user_verification=True,
        )
    return NewKey(
        credential_id=bytes_to_base64url(found.credential_id),
        public_key=bytes_to_base64url(found.credential_public_key),
        sign_count=found.sign_count,
    )


def read_answer(answer: str) -> Answer:
    """Which passkey it is about. Refused when it is no answer at all."""
    with _refusing():
        found = webauthn.helpers.parse_authentication_credential_json(_short(answer))
    return Answer(
        credential_id=bytes_to_base64url(found.raw_id), user_handle=found.response.user_handle or b""
    )


def check_answer(answer: str, challenge: str, passkey: Passkey) -> int:
    """The passkey's count, when it signed this challenge for this kitchen after making sure of its person."""
    with _refusing():
        found = webauthn.verify_authentication_response(
            credential=_short(answer),
            expected_challenge=base64url_to_bytes(challenge),
            expected_rp_id=_host(),
            expected_origin=settings.KITCHEN_URL,
            credential_public_key=base64url_to_bytes(passkey.public_key),
            credential_current_sign_count=0,  # The count is looked at by whoever asks, who says what is wrong.
            require_user_verification=True,
        )
    return found.new_sign_count


def _host() -> str:
    return urlsplit(settings.KITCHEN_URL).hostname or ""


def _short(answer: str) -> str:
    if len(answer) > LONGEST_ANSWER:
        raise _no_answer()
    return answer


@contextmanager
def _refusing() -> Iterator[None]:
    """Whatever the library finds wrong is one refusal: what exactly it was helps only whoever tries to forge one."""
    try:
        yield
    # The library lets some of what it stumbles over through as it is: a key that is no table, nesting without end.
    except (WebAuthnException, ValueError, TypeError, LookupError, RecursionError) as error:
        raise _no_answer() from error


def _no_answer() -> NotAllowed:
    return NotAllowed("The passkey's answer does not hold here.", remedy="Begin again on this page.")
