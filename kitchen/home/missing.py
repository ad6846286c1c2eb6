"""What a kitchen still lacks before its first harvest day, so that a lead need not find out from a refusal."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.urls import reverse

from kitchen.equipment.bridge import why_out_of_service
from kitchen.equipment.queries import canners_at_hand
from kitchen.home.queries import what_is_there
from kitchen.members.links import sends_mail
from kitchen.members.models import Kitchen


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Something to be done, why, and the address of the page on which it is done, if it is done on a page."""

    what: str
    why: str
    address: str = ""


def missing_in(kitchen: Kitchen, on: date) -> list[Missing]:
    """What has to be there before anything can be planned, in the order in which it is best done."""
    found: list[Missing] = []
    there = _there(kitchen, on)
    if not there.hours:
        found.append(
            Missing(
                what="Say when the kitchen is usually open",
                why="Members book canner time within these hours.",
                address=reverse("members:premises", args=[kitchen.slug]),
            )
        )
    found += _equipment(kitchen, on, there)
    if not there.watchers:
        found.append(
            Missing(
                what="Note who was trained to run a canner",
                why="No canner is heated without a trained person beside it (rule S9).",
                address=reverse("members:people", args=[kitchen.slug]),
            )
        )
    if not sends_mail():
        why = "Until KITCHEN_SMTP_URL names one, reminders and invitations only go into the data folder."
        found.append(Missing(what="No mail server is named", why=why))
    return found


class _There(NamedTuple):
    hours: bool
    burners: bool
    tables: bool
    watchers: bool


def _there(kitchen: Kitchen, on: date) -> _There:
    """Which of the things that are only asked for being there are there, in one query."""
    return _There(*what_is_there(kitchen, on))


def _equipment(kitchen: Kitchen, on: date, there: _There) -> list[Missing]:
    found: list[Missing] = []
    if not there.burners:
        why = "Heating times follow a burner's power, and two canners on one burner never run at once."
        found.append(
            Missing(
                what="List the burners",
                why=why,
                address=reverse("equipment:new", args=[kitchen.slug, "burners"]),
            )
        )
    canners = canners_at_hand(kitchen)
    if not canners:
        why = "Each with its kind, its inside measures and its burner."
        found.append(
            Missing(
                what="List the canners", why=why, address=reverse("equipment:new-canner", args=[kitchen.slug])
            )
        )
    elif all(why_out_of_service(canner, on) for canner in canners):
        found.append(
            Missing(
                what="No canner may be used",
                why=" ".join(why_out_of_service(canner, on) for canner in canners),
                address=reverse("equipment:everything", args=[kitchen.slug]),
            )
        )
    if not there.tables:
        why = "Jars stand 12 to 24 hours before they are moved (rule S12)."
        address = reverse("equipment:new", args=[kitchen.slug, "tables"])
        found.append(Missing(what="List the cooling tables", why=why, address=address))
    return found
