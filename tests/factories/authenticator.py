"""A device that keeps one passkey, written from the specification (WebAuthn level 2) without the library under test."""

from __future__ import annotations

import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import dataclass, field
from hashlib import sha256
from secrets import token_bytes

import cbor2
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256

PRESENT, VERIFIED, WITH_KEY = 0x01, 0x04, 0x40


def text_of(raw: bytes) -> str:
    """Unpadded base64url."""
    return urlsafe_b64encode(raw).rstrip(b"=").decode()


def bytes_of(text: str) -> bytes:
    """What unpadded base64url stands for."""
    return urlsafe_b64decode(text + "=" * (-len(text) % 4))


@dataclass
class Authenticator:
    """Answers as a browser at ``origin`` with this device would. Whatever is changed here makes an answer go wrong."""

    origin: str = "http://localhost:8000"
    host: str = "localhost"
    flags: int = PRESENT | VERIFIED
    counts: bool = True
    key: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))
    credential_id: bytes = field(default_factory=lambda: token_bytes(32))
    user_handle: bytes = b""
    count: int = 0

    def make(self, challenge: str) -> str:
        """The answer to a question for a new passkey."""
        numbers = self.key.public_key().public_numbers()
        # COSE: elliptic curve (2), ES256 (-7), P-256 (1), x and y.
        key = {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32, "big"), -3: numbers.y.to_bytes(32, "big")}
        length = len(self.credential_id).to_bytes(2, "big")
        data = self._data(WITH_KEY) + bytes(16) + length + self.credential_id + cbor2.dumps(key)
        held = cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": data})
        return self._answer(
            {
                "clientDataJSON": text_of(self._client_data("webauthn.create", challenge)),
                "attestationObject": text_of(held),
            }
        )

    def sign(self, challenge: str) -> str:
        """The answer to a question for whoever is there."""
        self.count += self.counts
        data, said = self._data(), self._client_data("webauthn.get", challenge)
        signature = self.key.sign(data + sha256(said).digest(), ec.ECDSA(SHA256()))
        return self._answer(
            {
                "clientDataJSON": text_of(said),
                "authenticatorData": text_of(data),
                "signature": text_of(signature),
                "userHandle": text_of(self.user_handle),
            }
        )

    def _data(self, more: int = 0) -> bytes:
        return (
            sha256(self.host.encode()).digest() + bytes([self.flags | more]) + self.count.to_bytes(4, "big")
        )

    def _client_data(self, kind: str, challenge: str) -> bytes:
        told = {"type": kind, "challenge": challenge, "origin": self.origin, "crossOrigin": False}
        return json.dumps(told).encode()

    def _answer(self, response: dict[str, str]) -> str:
        name = text_of(self.credential_id)
        return json.dumps({"id": name, "rawId": name, "type": "public-key", "response": response})
