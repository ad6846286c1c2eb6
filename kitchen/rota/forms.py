"""When a person can help, whom a lead asks for, and to whom a shift goes."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, tzinfo
from typing import Any, NamedTuple

from django import forms
from django.http import QueryDict

from kitchen.language.widgets import KeptSelect
from kitchen.members.models import Membership
from kitchen.rota.models import Station
from kitchen.rota.rules import MOST_WANTED

HOURS_UNREADABLE = "The hours could not be read. Write both times, as 09:30."

_ANYBODY = ("", "Anybody who may")
_NOTHING = ("", "Nothing")


class HoursForm(forms.Form):
    """From when to when, on the kitchen's wall clock."""

    starts = forms.TimeField(label="From", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    ends = forms.TimeField(label="To", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))


class WantedForm(HoursForm):
    """Where and when helpers are wanted, and how many."""

    station = forms.ChoiceField(label="Station", choices=Station)
    count = forms.IntegerField(label="How many", min_value=1, max_value=MOST_WANTED, initial=1)

    field_order = ("station", "starts", "ends", "count")


class PersonForm(forms.Form):
    """One of the kitchen's people."""

    to = forms.ChoiceField(label="To")

    def __init__(self, data: QueryDict | None = None, *, people: Iterable[Membership]) -> None:
        super().__init__(data)
        _choose(self.fields["to"], _names(people))


class Theirs(NamedTuple):
    """A shift of somebody else, as it is named in a list."""

    pk: int
    station: str
    starts_at: datetime
    ends_at: datetime
    display_name: str
    email: str


THEIRS = ("pk", "station", "starts_at", "ends_at", "user__display_name", "user__email")
"""The columns of one, in this order."""


class OfferForm(forms.Form):
    """To whom a shift is offered, and for what. ``theirs`` are shifts of others, which are asked for by their id."""

    to = forms.ChoiceField(label="To", required=False, widget=KeptSelect)
    wants = forms.ChoiceField(label="In return I would take", required=False, widget=KeptSelect)

    def __init__(
        self,
        data: QueryDict | None = None,
        *,
        people: Iterable[Membership],
        theirs: Iterable[Theirs],
        zone: tzinfo,
    ) -> None:
        super().__init__(data)
        _choose(self.fields["to"], [_ANYBODY, *_names(people)])
        _choose(self.fields["wants"], [_NOTHING, *_by_person(theirs, zone)])


def _choose(field: forms.Field, choices: list[Any]) -> None:
    assert isinstance(field, forms.ChoiceField)  # noqa: S101  (they are declared so above)
    field.choices = choices


def _names(people: Iterable[Membership]) -> list[tuple[str, str]]:
    return [(str(one.user_id), str(one.user)) for one in people]


def _by_person(shifts: Iterable[Theirs], zone: tzinfo) -> list[tuple[str, list[tuple[str, str]]]]:
    found: dict[str, list[tuple[str, str]]] = {}
    for shift in shifts:
        who = shift.display_name or shift.email
        hours = f"{shift.starts_at.astimezone(zone):%H:%M} to {shift.ends_at.astimezone(zone):%H:%M}"
        words = f"{who}: {Station(shift.station).label}, {hours}"
        found.setdefault(who, []).append((str(shift.pk), words))
    return sorted(found.items())
