"""A list that is told from columns tells the same as its serializer does, row by row."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import timedelta

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.test import Client
from django.urls import resolve
from django.utils import timezone
from rest_framework import serializers

from kitchen.api.base.access import KitchenView
from kitchen.api.base.listing import Listing
from kitchen.batches.models import Batch
from kitchen.bench.lists import LISTS
from kitchen.planning.models import Load, LoadPhase
from kitchen.rota.models import Shift, SwapOffer
from kitchen.seals.models import SealCheck
from tests.factories.furnished import Furnished, bearer, furnish
from tests.kitchen.api.test_queries import add_more

pytestmark = pytest.mark.django_db

ROW_BY_ROW = {"slots": "doubt", "canners": "out_of_service", "notices": "lines"}
"""Lists that are told row by row, each with a field that is worked out from the whole row."""


@pytest.fixture
def at() -> Furnished:
    """Three of everything, a count that was corrected, a load with phases and no time, offers to all and in return."""
    at = furnish()
    add_more(at)
    site, portion = at.site, at.run.portion
    first = SealCheck.objects.filter(portion=portion).first()
    for number in range(2):
        first = SealCheck.objects.create(
            portion=portion,
            sealed=portion.jars - number,
            unsealed=number,
            broken=0,
            checked_by=site.lead,
            checked_at=timezone.now(),
            corrects=first,
        )
    untimed = Load.objects.filter(canner_time__isnull=True).order_by("pk")[0]
    for number, kind in enumerate(("cool", "process", "heat_up")):  # Written backwards.
        start = at.day.opens_at + timedelta(minutes=60 - 20 * number, microseconds=number)
        LoadPhase.objects.create(
            load=untimed, kind=kind, starts_at=start, ends_at=start + timedelta(minutes=10)
        )
    shift, other = Shift.objects.exclude(user=None).order_by("pk")[:2]
    SwapOffer.objects.create(
        shift=shift,
        shift_sequence=shift.sequence,
        offered_by=site.member,
        to=site.other,
        wants=other,
        wants_sequence=other.sequence,
        accepted_by=site.lead,
        state="accepted",
        decided_at=timezone.now(),
    )
    Batch.objects.filter(harvest_day=at.day).update(harvest_day=None)
    return at


def view_of(at: Furnished, name: str) -> type[KitchenView]:
    view = getattr(resolve(f"/api/v1/kitchens/{at.site.kitchen.uuid}/{name}").func, "cls", None)
    assert isinstance(view, type)
    assert issubclass(view, KitchenView)
    return view


def listed(at: Furnished, name: str, clients: Sequence[Client]) -> Iterator[str]:
    """The list as each reads it, to the letter, from the first page to the last."""
    for client in clients:
        path = f"/api/v1/kitchens/{at.site.kitchen.uuid}/{name}?page_size=3"
        while path:
            answer = client.get(path)
            yield answer.content.decode()
            path = answer.json().get("next")


@pytest.mark.parametrize("name", [name for name in LISTS if name not in ROW_BY_ROW])
def test_what_is_told_from_columns_is_what_the_serializer_tells(
    at: Furnished, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    view = view_of(at, name)
    clients = [Client(headers=bearer(user, at.site)) for user in (at.site.lead, at.site.member)]
    fast = list(listed(at, name, clients))
    assert view.listing is not None
    monkeypatch.setattr(view, "listing", None)
    slow = list(listed(at, name, clients))
    assert fast == slow
    assert any(json.loads(page).get("results") for page in fast)


def test_the_other_lists_have_a_field_that_is_in_no_column(at: Furnished) -> None:
    for name, field in ROW_BY_ROW.items():
        view = view_of(at, name)
        assert view.listing is None
        with pytest.raises(ImproperlyConfigured, match=f"{field} of .* is in no column"):
            Listing(view.shown).read(view.model._default_manager.all())


class _Named(serializers.Serializer[Load]):
    lot_code = serializers.CharField()


class _Nested(serializers.Serializer[Load]):
    phases = _Named(many=True)


def test_many_rows_below_one_must_be_found_beside_it() -> None:
    with pytest.raises(ImproperlyConfigured, match="phases of _Nested is in no column"):
        Listing(_Nested).read(Load.objects.all())
    told = Listing(_Nested, beside={"phases": lambda keys: {}})
    assert told.told([{"pk": 1}]) == [{"phases": []}]
    assert told.told([]) == []
