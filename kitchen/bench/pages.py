"""Every page that is read, with what its address needs and who reads it. What is not here is named with the reason."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from kitchen.bench.coming import Coming, make_coming, reopen_offers
from kitchen.bench.seasons import Amounts, fill_seasons
from kitchen.bench.sites import Site
from kitchen.labels.queries import lots_of_portion
from kitchen.members.models import Membership, Role, User
from kitchen.planning.models import HarvestDay
from kitchen.reminders.links import make_token, make_unsubscribe_token
from kitchen.reminders.models import Kind

EVERYBODY = (Role.LEAD, Role.OPERATOR, Role.MEMBER)
OF_OPERATORS = (Role.LEAD, Role.OPERATOR)
OF_LEADS = (Role.LEAD,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page by the name of its address. ``query`` is what comes behind the question mark."""

    name: str
    readers: tuple[Role, ...] = EVERYBODY
    values: tuple[str, ...] = ("kitchen",)
    query: str = ""

    def address(self, subject: Mapping[str, object]) -> str:
        """Where it is for this kitchen's things."""
        named = {key.partition("=")[0]: subject[key.rpartition("=")[2]] for key in self.values}
        return reverse(self.name, kwargs=named) + (f"?{self.query}" if self.query else "")


# A value "day=past" gives the address its "day" from what the subject calls "past".
_PAST = ("kitchen", "day=past")
_DAY = ("kitchen", "day")
_JOB = ("kitchen", "day", "job=planned")
PAGES = (
    Page(name="home:kitchen"),
    Page(name="home:intake", values=_DAY),
    Page(name="home:intake-table", values=_DAY),
    Page(name="home:notices"),
    Page(name="home:calendars"),
    Page(name="hooks:hooks", readers=OF_LEADS),
    Page(name="members:about-me", values=()),
    Page(name="members:change-password", values=()),
    Page(name="entrance:passkeys", values=()),
    Page(name="reminders:choices", values=()),
    Page(name="reminders:unsubscribe", values=("token=ending",)),
    Page(name="members:people", readers=OF_LEADS),
    Page(name="members:person", values=("kitchen", "membership=member"), readers=OF_LEADS),
    Page(name="members:policy", readers=OF_LEADS),
    Page(name="members:premises", readers=OF_LEADS),
    Page(name="equipment:everything", readers=OF_OPERATORS),
    Page(name="equipment:canner", values=("kitchen", "canner"), readers=OF_OPERATORS),
    Page(name="equipment:new-canner", readers=OF_LEADS),
    Page(name="equipment:new", values=("kitchen", "what"), readers=OF_LEADS),
    Page(name="equipment:thing", values=("kitchen", "what", "thing"), readers=OF_LEADS),
    Page(name="batches:lines", readers=OF_LEADS),
    Page(name="api:guide", values=()),
    Page(name="api:tokens"),
    Page(name="harvest:open", readers=OF_LEADS),
    Page(name="harvest:day", values=_DAY),
    Page(name="harvest:day", values=_PAST),
    Page(name="harvest:rest", values=_DAY, readers=OF_LEADS),
    Page(name="harvest:draw", values=_DAY, readers=OF_LEADS),
    Page(name="harvest:drawn", values=("kitchen", "day", "job=drawn"), readers=OF_LEADS),
    Page(name="harvest:progress", values=("kitchen", "day", "job=waiting"), readers=OF_LEADS),
    Page(name="harvest:chart", values=_JOB),
    Page(name="harvest:what-if", values=_JOB, readers=OF_LEADS),
    Page(name="rota:mine", values=_DAY),
    Page(name="rota:everybody", values=_DAY),
    Page(name="rota:everybody", values=_PAST),
    Page(name="rota:shift", values=("kitchen", "shift")),
    Page(name="floor:canners", values=_DAY),
    Page(name="floor:canners", values=_PAST),
    Page(name="floor:canners", values=_PAST, query="live=1"),
    Page(name="floor:run-sheet", values=("kitchen", "day=past", "canner")),
    Page(name="floor:line", values=("kitchen", "load", "line")),
    Page(name="helping:mine"),
    Page(name="helping:member", values=("kitchen", "member"), readers=OF_LEADS),
    Page(name="learning:times"),
    Page(name="learning:records"),
    Page(name="booking:page"),
    Page(name="booking:change", values=("kitchen", "slot"), readers=(Role.LEAD, Role.MEMBER)),
    Page(name="booking:held", values=("kitchen", "hold"), readers=(Role.LEAD, Role.MEMBER)),
    Page(name="seals:check", values=("kitchen", "portion")),
    Page(name="seals:link", values=("token",)),
    Page(name="reprocess:by-member", values=("kitchen", "portion")),
    Page(name="reprocess:by-link", values=("token",)),
    Page(name="labels:jars", values=("kitchen", "portion=counted")),
    Page(name="labels:batch", values=("kitchen", "batch")),
    Page(name="labels:day", values=("kitchen", "day=past"), readers=OF_OPERATORS),
    Page(name="labels:shelf"),
    Page(name="labels:whole-shelf", readers=OF_LEADS),
    Page(name="labels:find"),
    Page(name="labels:lot", values=("kitchen", "code")),
    Page(name="records:load", values=("kitchen", "load"), readers=OF_OPERATORS),
    Page(name="records:load-csv", values=("kitchen", "load"), readers=OF_OPERATORS),
    Page(name="records:load-pdf", values=("kitchen", "load"), readers=OF_OPERATORS),
    Page(name="records:day", values=_PAST, readers=OF_OPERATORS),
    Page(name="records:day-csv", values=_PAST, readers=OF_OPERATORS),
    Page(name="records:day-pdf", values=_PAST, readers=OF_OPERATORS),
    Page(name="records:to-review", readers=OF_LEADS),
    Page(name="season:newest", readers=OF_LEADS),
    Page(name="season:year", values=("kitchen", "year"), readers=OF_LEADS),
    Page(name="export:kitchen", readers=OF_LEADS),
    Page(name="export:mine", values=()),
    Page(name="calendars:feed", values=("secret",)),
    Page(name="calendars:day", values=("day",)),
)

_SIGNED_OUT = "is for people who are not signed in and reads nothing of a kitchen"
NOT_PAGES: Mapping[str, str] = {
    "home:front": "leads straight on to the one kitchen of these people",
    "labels:scanned": "leads on to labels:lot",
    "members:sign-in": _SIGNED_OUT,
    "entrance:ask-code": _SIGNED_OUT,
    "entrance:enter-code": _SIGNED_OUT,
    "members:join": _SIGNED_OUT,
    "members:forgotten": _SIGNED_OUT,
    "members:forgotten-sent": _SIGNED_OUT,
    "members:new-password": _SIGNED_OUT,
    "api:schema": "is a file of the program",
    "floor:offline": "is a file of the program",
    "api:missing": "says that there is no such address",
}
"""Addresses that can be read and are no page to be measured, with the reason. The API's own are held by its tests."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """A kitchen full of rows, what its addresses need, and one reader of each role."""

    site: Site
    values: Mapping[str, object]
    readers: Mapping[Role, User] = field(default_factory=dict)


def addresses_by_name() -> Iterator[tuple[str, URLPattern]]:
    """All named addresses of the kitchen but those of the administration."""
    for one in get_resolver("kitchen.urls").url_patterns:
        if isinstance(one, URLResolver) and one.app_name != "admin":
            for inner in one.url_patterns:
                if isinstance(inner, URLPattern):
                    yield f"{one.app_name}:{inner.name}", inner


def make_subject(site: Site, amounts: Amounts, now: datetime) -> Subject:
    """The kitchen's seasons and its day to come, filled in."""
    fill_seasons(site, amounts, now.astimezone(site.kitchen.zone).date())
    coming = make_coming(site, many=min(amounts.batches, amounts.batches_of_a_day), now=now)
    reopen_offers(site, now)
    return Subject(
        site=site,
        values=_values(site, coming),
        readers={
            Role.LEAD: site.leads[0],
            Role.OPERATOR: site.operators[0],
            Role.MEMBER: site.members[0],
        },
    )


def _values(site: Site, coming: Coming) -> dict[str, object]:
    past = HarvestDay.objects.filter(kitchen=site.kitchen, date__lt=coming.day.date).order_by("-date")
    newest, oldest = past[0], past[len(past) - 1]
    load = newest.loads.filter(portions__batch__member=site.members[0]).order_by("pk")[0]
    counted = oldest.loads.order_by("pk")[0].portions.get()
    member = Membership.objects.get(kitchen=site.kitchen, user=site.members[0])
    portion = load.portions.get()
    return {
        "kitchen": site.kitchen.slug,
        "day": coming.day.uuid,
        "past": newest.uuid,
        "planned": coming.planned.uuid,
        "waiting": coming.waiting.uuid,
        "drawn": coming.drawn.uuid,
        "shift": coming.mine.uuid,
        "canner": load.canner.uuid,
        "what": "burners",
        "thing": load.canner.burner.uuid,
        "load": load.uuid,
        "line": load.run_events.order_by("pk")[0].pk,
        "member": member.uuid,
        "slot": coming.slot.uuid,
        "hold": coming.hold.uuid,
        "portion": portion.uuid,
        "token": make_token(portion, site.members[0]),
        "ending": make_unsubscribe_token(site.members[0], Kind.ROTA),
        "counted": counted.uuid,
        "batch": counted.batch.uuid,
        "code": lots_of_portion(counted)[0].code,
        "year": oldest.date.year,
        "secret": coming.feed,
    }
