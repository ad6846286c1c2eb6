"""A member's own pages: who finds them, what bad intake is told, and how many queries they take."""

from __future__ import annotations

from html import escape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitchen.batches.models import Batch
from kitchen.calendars.actions import create_feed
from kitchen.calendars.models import FeedKind
from kitchen.home import urls
from kitchen.planning.models import HarvestDay
from kitchen.reminders.models import Notice, Reminder
from scheduler.caution import CAUTION
from tests.factories.canner_runs import Run, make_beans_out
from tests.factories.sites import Site, declare, make_open_day, make_site, publish
from tests.factories.walks import addresses, answers, rows, signed_in

pytestmark = pytest.mark.django_db

NAMES = [str(one.name) for one in urls.urlpatterns]
# Addresses that name nothing but a kitchen, or not even that.
OF_NOTHING = {"front", "kitchen", "notices", "calendars", "new-feed"}
SNAP_BEANS = "Beans, snap and Italian, pieces, green and wax"
GOOD = {
    "food": SNAP_BEANS,
    "amount": "7",
    "unit": "jars",
    "jar": "quart",
    "pack": "raw",
    "arrives": "09:00",
    "picks_up": "17:00",
    "note": "1",
}


@pytest.fixture
def run() -> Run:
    return make_beans_out(make_site())


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return make_open_day(site)


def pages(run: Run, *, slug: str = "") -> dict[str, str]:
    """Every address of the member's own things, under this kitchen's name or another's."""
    member, kitchen = run.site.member, run.site.kitchen
    reminder = Reminder.objects.filter(portion=run.portion).order_by("due_at")[0]
    notice, _ = Notice.objects.get_or_create(
        reminder=reminder, defaults={"recipient": member, "created_at": reminder.due_at}
    )
    feed = create_feed(user=member, kitchen=kitchen, kind=FeedKind.MEMBER).feed
    values = {
        "kitchen": slug or kitchen.slug,
        "day": run.day.uuid,
        "batch": run.portion.batch.uuid,
        "notice": notice.pk,
        "feed": feed.pk,
        "kind": FeedKind.ROTA,
        "canner": run.site.dial.uuid,
    }
    return addresses("home", urls.urlpatterns, values)


def bring(site: Site, day: HarvestDay) -> str:
    return reverse("home:intake", args=[site.kitchen.slug, day.uuid])


@pytest.mark.parametrize("name", [name for name in NAMES if name != "front"])
def test_another_kitchen_is_not_found(run: Run, site: Site, name: str) -> None:
    address, stranger = pages(run)[name], signed_in(site.lead)
    before = rows()
    assert answers(stranger, address) == {404}
    assert rows() == before


@pytest.mark.parametrize("name", [name for name in NAMES if name not in OF_NOTHING])
def test_anothers_things_are_not_found_under_ones_own_kitchen(run: Run, site: Site, name: str) -> None:
    address, stranger = pages(run, slug=site.kitchen.slug)[name], signed_in(site.lead)
    before = rows()
    assert answers(stranger, address) == {404}
    assert rows() == before


@pytest.mark.parametrize("name", NAMES)
def test_nobody_gets_in_unsigned(run: Run, name: str) -> None:
    address = pages(run)[name]
    before = rows()
    for answer in (Client().get(address), Client().post(address)):
        assert (answer.status_code, answer["Location"]) == (302, f"/sign-in/?next={address}")
    assert rows() == before


@pytest.mark.parametrize("name", ["withdraw", "seen", "end-feed"])
def test_another_members_things_stay_theirs(run: Run, name: str) -> None:
    address, other = pages(run)[name], signed_in(run.site.other)
    before = rows()
    other.post(address)
    assert rows() == before


def test_good_intake_is_noted(site: Site, day: HarvestDay) -> None:
    answer = signed_in(site.member).post(bring(site, day), GOOD)
    assert (answer.status_code, answer["Location"]) == (
        302,
        reverse("home:kitchen", args=[site.kitchen.slug]),
    )
    batch = Batch.objects.get()
    assert (batch.member, batch.food_id, batch.jars, batch.jar, batch.arrives_at, batch.picks_up_at) == (
        site.member,
        "snap_beans",
        7,
        "quart",
        site.at(9),
        site.at(17),
    )


def test_an_estimate_writes_nothing(site: Site, day: HarvestDay) -> None:
    client = signed_in(site.member)
    before = rows()
    answer = client.post(bring(site, day), {name: given for name, given in GOOD.items() if name != "note"})
    assert (answer.status_code, rows()) == (200, before)
    assert "That makes 7 jars" in answer.content.decode()


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        pytest.param(
            {"food": "snap beens"}, ["snap beens", "Nearest: Beans, snap and Italian"], id="unknown food"
        ),
        # USDA AIB 539, Guide 4: cream style corn has a process for pints only.
        pytest.param(
            {"food": "corn_cream_style", "pack": "hot"}, ["Published for this food", "pint"], id="quarts"
        ),
        pytest.param({"amount": "0"}, ["Give a number above zero."], id="nothing"),
        pytest.param({"amount": "10000"}, ["10,000 jars", "1 to 2,000 jars"], id="ten thousand"),
        pytest.param(
            {"arrives": "17:00", "picks_up": "09:00"}, ["picked up before the food arrives"], id="pick-up"
        ),
        pytest.param({"amount": "seven"}, ["Enter a number."], id="broken number"),
        pytest.param({"amount": "NaN"}, ["Enter a number."], id="not a number"),
        pytest.param({"amount": "-1"}, ["greater than or equal to 0"], id="below nothing"),
        pytest.param({"arrives": "06:00"}, ["open from 07:00 to 20:00"], id="before opening"),
    ],
)
def test_bad_intake_says_why_and_keeps_what_was_typed(
    site: Site, day: HarvestDay, wrong: dict[str, str], told: list[str]
) -> None:
    client, typed = signed_in(site.member), {**GOOD, **wrong}
    before = rows()
    answer = client.post(bring(site, day), typed)
    page = answer.content.decode()
    assert (answer.status_code, rows()) == (422, before)
    alarm = "".join(piece.split("<form")[0].split("</span>")[0] for piece in page.split('role="alert"')[1:])
    for words in told:
        assert words in alarm
    for name in ("food", "amount", "arrives", "picks_up"):
        assert f'value="{escape(typed[name])}"' in page
    for name in ("unit", "jar", "pack"):
        assert f'value="{typed[name]}" selected' in page


def test_the_caution_stands_on_home_intake_and_notices(run: Run) -> None:
    client, found = signed_in(run.site.member), pages(run)
    for name in ("kitchen", "intake", "notices"):
        assert escape(CAUTION) in client.get(found[name]).content.decode()
    refused = client.post(found["intake"], {**GOOD, "food": "snap beens"})
    assert escape(CAUTION) in refused.content.decode()


def queries(site: Site) -> int:
    client, address = signed_in(site.member), reverse("home:kitchen", args=[site.kitchen.slug])
    client.get(address)
    with CaptureQueriesContext(connection) as captured:
        page = client.get(address).content.decode()
    assert SNAP_BEANS in page
    return len(captured)


@pytest.mark.parametrize("published", [False, True], ids=["declared", "published"])
def test_five_batches_take_no_more_queries_than_one(published: bool) -> None:
    counts = []
    for batches in (1, 5):
        site = make_site()
        day = make_open_day(site)
        for _ in range(batches):
            declare(site, day)
        if published:
            publish(site, day)
        assert Batch.objects.filter(kitchen=site.kitchen).count() == batches
        counts.append(queries(site))
    assert counts[0] == counts[1]
