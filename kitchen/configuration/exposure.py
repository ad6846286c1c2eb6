"""Which settings do not go together once people other than the developer reach the program."""

from __future__ import annotations

from kitchen.configuration.environment import Environment
from kitchen.errors import BadConfiguration


def check_exposure(environment: Environment) -> None:
    """Refuse error pages that show the program's inside to others, and HTTPS without a host's name."""
    reached_by_others = environment.flag("HTTPS") or bool(environment.named_hosts())
    if environment.flag("DEBUG") and reached_by_others:
        raise BadConfiguration(
            "KITCHEN_DEBUG shows the program's inside to everyone who reaches it.",
            remedy="Unset KITCHEN_DEBUG, or KITCHEN_HTTPS and KITCHEN_HOSTS.",
        )
    if environment.flag("HTTPS") and not environment.named_hosts():
        raise BadConfiguration(
            "KITCHEN_HTTPS is set, but no host has a name.",
            remedy="Set KITCHEN_HOSTS to the name in the browser, like kitchen.example.",
        )
