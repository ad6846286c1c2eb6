"""Walking the addresses of an app, and seeing that nothing was written meanwhile."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from html import unescape

from django.apps import apps
from django.test import Client
from django.urls import URLPattern, reverse

from kitchen.members.models import User

_SECRET = re.compile(r'name="csrfmiddlewaretoken" value="[^"]+"')


def signed_in(user: User) -> Client:
    """A browser in which this person is signed in."""
    client = Client()
    client.force_login(user)
    return client


def addresses(app: str, patterns: Sequence[URLPattern], values: Mapping[str, object]) -> dict[str, str]:
    """Every address of an app by its name, filled with these values. A name without its value fails here."""
    return {
        str(one.name): reverse(
            f"{app}:{one.name}", kwargs={key: values[key] for key in one.pattern.converters}
        )
        for one in patterns
    }


def rows() -> dict[str, list[dict[str, object]]]:
    """Everything the database holds but sessions, to be compared before and after."""
    return {
        model._meta.label: list(model._base_manager.order_by("pk").values())
        for model in apps.get_models()
        if model._meta.app_label != "sessions"
    }


def answers(client: Client, address: str) -> set[int]:
    """What reading and writing at an address is answered with; 405 says only that this is not the way."""
    return {client.get(address).status_code, client.post(address).status_code} - {405}


def sections_of(reader: User, address: str) -> dict[str, str]:
    """The parts of a page as this person reads it, each under the id of its heading."""
    text = unescape(signed_in(reader).get(address).content.decode())
    parts = [part.partition('"') for part in text.split('<h2 id="')[1:]]
    return {name: part for name, _, part in parts}


def without_secrets(text: str) -> str:
    """A page without the secret of its forms, which is masked anew for each answer."""
    return _SECRET.sub("", text)
