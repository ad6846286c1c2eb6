"""A kitchen from nothing: the command, place and hours, and the list of what is missing."""

from __future__ import annotations

from datetime import date, time
from io import StringIO

import pytest
from django.core.management import call_command
from django.test import Client, override_settings
from django.urls import reverse

from kitchen.audit.models import AuditEvent
from kitchen.errors import BadSetting
from kitchen.home.missing import missing_in
from kitchen.members.models import Kitchen, Role, User
from tests.factories.sites import DAY, Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

LONG = "three jars of plums"


@pytest.fixture
def site() -> Site:
    return make_site()


def opened(**changes: str) -> str:
    out = StringIO()
    given = {
        "code": "QH",
        "altitude_ft": "1200",
        "time_zone": "America/Denver",
        "lead": "Ada Birch",
        "email": "Ada@Birch.example",
    }
    options = [f"--{name.replace('_', '-')}={value}" for name, value in (given | changes).items()]
    call_command("open_kitchen", "Quill Hollow", *options, stdout=out)
    return out.getvalue()


def test_a_kitchen_is_opened_from_the_command_line_and_its_lead_comes_in() -> None:
    told = opened()
    kitchen = Kitchen.objects.get(slug="quill-hollow")
    assert (kitchen.altitude_ft, kitchen.site_code) == (1200, "QH")
    assert kitchen.memberships.get().role == Role.LEAD
    join = "/join/" + told.split("/join/")[1].strip()
    browser = Client()
    page = browser.post(join, {"new_password1": LONG, "new_password2": LONG}, follow=True).content.decode()
    assert "Still to be done here" in page
    assert browser.get(reverse("admin:equipment_burner_add")).status_code == 200


def test_whoever_can_sign_in_already_only_signs_in(site: Site) -> None:
    site.lead.set_password(LONG)
    site.lead.save()
    told = opened(email=site.lead.email)
    assert "/join/" not in told
    assert site.lead.memberships.count() == 2


@pytest.mark.parametrize(
    "wrong", [{"altitude_ft": "9000"}, {"time_zone": "Nowhere"}, {"code": "toolong"}, {"email": "no address"}]
)
def test_a_kitchen_that_cannot_be_leaves_nothing_behind(wrong: dict[str, str]) -> None:
    with pytest.raises(BadSetting):
        opened(**wrong)
    assert not Kitchen.objects.exists()
    assert not User.objects.exists()


def week(site: Site, **changes: str) -> dict[str, str]:
    given = {
        f"{edge}_{day}_{number}": ""
        for edge in ("opens", "closes")
        for day in range(7)
        for number in range(2)
    }
    return given | changes


def test_hours_are_set_for_the_whole_week_and_each_changed_day_is_recorded(site: Site) -> None:
    client = signed_in(site.lead)
    hours = reverse("members:change-hours", args=[site.kitchen.slug])
    given = week(site, opens_2_0="08:00", closes_2_0="12:00", opens_2_1="13:00", closes_2_1="17:30")
    assert client.post(hours, given).status_code == 302
    assert list(site.kitchen.opening_hours.values_list("weekday", "opens", "closes")) == [
        (2, time(8), time(12)),
        (2, time(13), time(17, 30)),
    ]
    assert AuditEvent.objects.filter(action="set_opening_hours").count() == 7
    client.post(hours, given)
    assert AuditEvent.objects.filter(action="set_opening_hours").count() == 7
    page = client.get(reverse("members:premises", args=[site.kitchen.slug])).content.decode()
    assert 'value="17:30"' in page


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"opens_0_0": "08:00"}, "Give both the opening and the closing"),
        ({"opens_0_0": "08:00", "closes_0_0": "07:00"}, "cannot close at 07:00"),
        (
            {"opens_0_0": "08:00", "closes_0_0": "12:00", "opens_0_1": "11:00", "closes_0_1": "14:00"},
            "begin before those",
        ),
    ],
)
def test_hours_that_cannot_be_change_nothing(site: Site, wrong: dict[str, str], words: str) -> None:
    hours = reverse("members:change-hours", args=[site.kitchen.slug])
    given = week(site, opens_3_0="08:00", closes_3_0="12:00") | wrong
    answer = signed_in(site.lead).post(hours, given)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert site.kitchen.opening_hours.count() == 7


def test_the_place_is_changed_within_the_published_bands_only(site: Site) -> None:
    client, place = signed_in(site.lead), reverse("members:change-place", args=[site.kitchen.slug])
    client.post(place, {"altitude_ft": "3100", "time_zone": "America/Boise"})
    site.kitchen.refresh_from_db()
    assert (site.kitchen.altitude_ft, site.kitchen.time_zone) == (3100, "America/Boise")
    for wrong in ({"altitude_ft": "8001"}, {"altitude_ft": "-1"}, {"time_zone": "Nowhere/At-All"}):
        given = {"altitude_ft": "3100", "time_zone": "America/Boise"} | wrong
        assert client.post(place, given).status_code == 422
    site.kitchen.refresh_from_db()
    assert site.kitchen.altitude_ft == 3100


def test_nobody_but_a_lead_sets_place_and_hours(site: Site) -> None:
    for user, status in ((site.operator, 403), (site.member, 403), (make_site().lead, 404)):
        client = signed_in(user)
        for name in ("change-place", "change-hours"):
            address = reverse(f"members:{name}", args=[site.kitchen.slug])
            assert client.post(address, week(site)).status_code == status
        assert client.get(reverse("members:premises", args=[site.kitchen.slug])).status_code == status
    assert site.kitchen.opening_hours.count() == 7


def test_what_is_missing_is_named_until_it_is_there(site: Site) -> None:
    assert missing_in(site.kitchen, DAY) == []
    site.kitchen.canners.exclude(pk=site.dial.pk).update(out_of_service_reason="The gasket leaks")
    (canners,) = missing_in(site.kitchen, DAY)
    assert "gauge" in canners.why
    site.kitchen.opening_hours.all().delete()
    site.kitchen.cooling_tables.all().delete()
    told = [one.what for one in missing_in(site.kitchen, date(2026, 1, 1))]  # Before the trainings.
    assert told == [
        "Say when the kitchen is usually open",
        "No canner may be used",
        "List the cooling tables",
        "Note who was trained to run a canner",
    ]


@override_settings(EMAIL_BACKEND="django.core.mail.backends.filebased.EmailBackend", EMAIL_FILE_PATH="unused")
def test_a_lead_hears_that_no_reminder_leaves_the_kitchen(site: Site) -> None:
    (mail,) = missing_in(site.kitchen, DAY)
    assert "KITCHEN_SMTP_URL" in mail.why
    assert (
        mail.what
        in signed_in(site.lead).get(reverse("home:kitchen", args=[site.kitchen.slug])).content.decode()
    )
