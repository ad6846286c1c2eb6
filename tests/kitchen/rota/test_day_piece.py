"""A person's own page of a day is written once while all in it is as it is, and never longer."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db.models import QuerySet
from django.urls import reverse

from kitchen.equipment.models import Canner
from kitchen.members.models import Membership, User
from kitchen.planning.models import Load
from kitchen.rota.models import Shift, Station, SwapOffer
from tests.factories.furnished import Furnished, furnish
from tests.factories.walks import sections_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def furnished() -> Furnished:
    """A member offers one of their shifts, which is at a load, for one of another's; one is open to anybody."""
    made = furnish()
    offer = SwapOffer.objects.get()
    theirs = Shift.objects.create(
        harvest_day=made.day,
        user=made.site.other,
        station=Station.KETTLE,
        starts_at=made.day.opens_at + timedelta(hours=6),
        ends_at=made.day.opens_at + timedelta(hours=7),
    )
    SwapOffer.objects.update(wants=theirs, wants_sequence=theirs.sequence)
    Shift.objects.filter(pk=offer.shift_id).update(load=made.waiting)
    return made


def page(furnished: Furnished, reader: User) -> dict[str, str]:
    address = reverse("rota:mine", args=[furnished.site.kitchen.slug, furnished.day.uuid])
    return sections_of(reader, address)


def test_each_thing_that_changes_shows_at_once(furnished: Furnished) -> None:
    site, offer = furnished.site, SwapOffer.objects.get()
    assert offer.wants_id is not None
    given, asked = (Shift.objects.filter(pk=pk) for pk in (offer.shift_id, offer.wants_id))
    vacant = Shift.objects.filter(harvest_day=furnished.day, user=None)
    load, canner = Load.objects.filter(pk=furnished.waiting.pk), Canner.objects.filter(pk=site.boiling.pk)
    minutes = timedelta(minutes=5)
    changes: list[tuple[User, str, QuerySet[Any], dict[str, object]]] = [
        (site.member, "mine", given, {"ends_at": given.get().ends_at + minutes}),
        (site.member, "mine", given, {"station": Station.FILL}),
        (site.member, "mine", given, {"task": "cleaning"}),
        (site.member, "mine", load, {"number": 8}),
        (site.member, "mine", canner, {"name": "The big pot"}),
        (site.member, "mine", User.objects.filter(pk=site.other.pk), {"display_name": "Sorrel Quince"}),
        (site.member, "mine", asked, {"station": Station.COOLING}),
        (site.other, "offers", User.objects.filter(pk=site.member.pk), {"display_name": "Medlar Fenn"}),
        (site.other, "offers", asked, {"starts_at": asked.get().starts_at + minutes}),
        (site.other, "offers", canner, {"name": "The small pot"}),
        (site.other, "open", vacant, {"starts_at": vacant.get().starts_at + minutes}),
        (site.other, "open", vacant, {"station": Station.CANNER}),
        (site.other, "open", Membership.objects.filter(user=site.other), {"under_16": True}),
    ]
    for reader, section, rows, changed in changes:
        before = page(furnished, reader)[section]
        assert before == page(furnished, reader)[section]
        assert rows.update(**changed)
        assert page(furnished, reader)[section] != before, (section, changed)


def test_a_withdrawn_offer_a_taken_shift_and_a_day_that_is_over_show_at_once(furnished: Furnished) -> None:
    site = furnished.site
    assert 'formaction="' in page(furnished, site.other)["offers"]
    SwapOffer.objects.update(state="withdrawn", decided_at=furnished.day.opens_at)
    assert "offers" not in page(furnished, site.other)
    assert "Take it" in page(furnished, site.other)["open"]
    furnished.day.state = "closed"
    furnished.day.save()
    assert "Take it" not in page(furnished, site.other)["open"]
    Shift.objects.filter(user=None).update(user=site.member)
    assert "None at the moment" in page(furnished, site.other)["open"]
