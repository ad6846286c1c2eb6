"""News of the rota for those concerned: who lost, took or was offered which shift.

Each piece of news is a row in the queue of reminders, in the transaction of the change; it goes out after that.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.urls import reverse

from kitchen.members.models import User
from kitchen.members.queries import leads_of, members_of
from kitchen.planning.models import HarvestDay
from kitchen.reminders.actions import tell
from kitchen.rota.models import Shift, Station, SwapOffer

WATCH_OPEN = (
    "WATCH: nobody is put down for this canner. It is not heated without a trained person at it (rule S9)."
)


def shift_words(shift: Shift) -> str:
    """A shift in words: ``Fill, Saturday 12 September, 13:00 to 15:00, Red kettle load 2``."""
    starts = shift.starts_at.astimezone(shift.harvest_day.kitchen.zone)
    cleaning = " (cleaning)" if shift.task == "cleaning" else ""
    load = f", {shift.load.canner} load {shift.load.number}" if shift.load else ""
    station = Station(shift.station).label
    return f"{station}{cleaning}, {starts:%A %-d %B}, {hours_words(shift)}{load}"


def hours_words(shift: Shift) -> str:
    """From when to when, on the kitchen's clock: ``13:00 to 15:00``."""
    zone = shift.harvest_day.kitchen.zone
    return f"{shift.starts_at.astimezone(zone):%H:%M} to {shift.ends_at.astimezone(zone):%H:%M}"


def tell_opened(
    day: HarvestDay, opened: Sequence[Shift], *, by: User, lost: User | None, at: datetime
) -> None:
    """The leads hear at once that somebody is wanted, and whoever was taken off the rota that they were."""
    if not opened:
        return
    who = f"{by} gave this back." if lost is None or lost == by else f"{by} took {lost} off these shifts."
    _tell_wanted(day, opened, who, "WATCH GIVEN BACK: ", to=_others(_leads(day), by, lost), at=at)
    if lost is not None and lost != by:
        why = f"{by} took you off these shifts; there is nothing left for you to do in them."
        _tell_lost(day, opened, why, to=[lost], path=rota_path(day, "rota:mine"), at=at)


def tell_taken(shift: Shift, *, by: User, at: datetime) -> None:
    """The leads hear that an open shift has found somebody."""
    tell(
        kitchen=shift.harvest_day.kitchen,
        to=_others(_leads(shift.harvest_day), by),
        title=f"Taken by {by}: {shift_words(shift)}",
        lines=[f"{by} took this shift, which was open.", shift_words(shift)],
        path=rota_path(shift.harvest_day, "rota:everybody"),
        at=at,
        begins=shift.starts_at,
    )


def tell_handed_over(shift: Shift, *, before: User | None, by: User, at: datetime) -> None:
    """Both people hear of a shift that went from one to the other; of a watch, the leads as well."""
    day, words = shift.harvest_day, shift_words(shift)
    mine, kitchen = rota_path(day, "rota:mine"), day.kitchen
    assert shift.user is not None  # noqa: S101  (it was handed to somebody)
    if before is not None:
        lines = [f"{shift.user} does this in your place.", words]
        tell(
            kitchen=kitchen,
            to=_others([before], by),
            title=f"No longer yours: {words}",
            lines=lines,
            path=mine,
            at=at,
            begins=day.opens_at,
        )
    lines = [f"{by} put you down for this.", words]
    tell(
        kitchen=kitchen,
        to=_others([shift.user], by),
        title=f"Yours now: {words}",
        lines=lines,
        path=mine,
        at=at,
        begins=day.opens_at,
    )
    if shift.is_watch:
        _tell_leads_of_watch([shift], told=(by, before, shift.user), at=at)


def tell_offered(offer: SwapOffer, *, at: datetime) -> None:
    """The one person to whom a shift was offered. An offer to anybody stands on everybody's page."""
    if offer.to is None:
        return
    lines = [f"{offer.offered_by} offers you: {shift_words(offer.shift)}"]
    if offer.wants is not None:
        lines.append(f"In return they would take yours: {shift_words(offer.wants)}")
    lines.append("Accept it on the rota's page, before the shift begins. Until then nothing changes.")
    _tell_of(offer, [offer.to], f"{offer.offered_by} offers you a shift", lines, at)


def tell_withdrawn(offer: SwapOffer, *, at: datetime) -> None:
    """The one person to whom the shift was offered."""
    if offer.to is not None:
        lines = [f"{offer.offered_by} has taken the offer back.", shift_words(offer.shift)]
        _tell_of(offer, [offer.to], "An offer was taken back", lines, at)


def tell_accepted(offer: SwapOffer, *, by: User, at: datetime) -> None:
    """Whoever offered; of a watch, the leads as well."""
    lines = [f"{by} has your shift now: {shift_words(offer.shift)}"]
    if offer.wants is not None:
        lines.append(f"You have theirs: {shift_words(offer.wants)}")
    _tell_of(offer, [offer.offered_by], f"{by} accepted your offer", lines, at)
    watches = [one for one in (offer.shift, offer.wants) if one is not None and one.is_watch]
    _tell_leads_of_watch(watches, told=(by, offer.offered_by), at=at)


def tell_lapsed(
    day: HarvestDay, lapsed: Sequence[tuple[SwapOffer, str]], *, by: User | None, at: datetime
) -> None:
    """Whoever offered, and the one person to whom it was offered; one message each, however many offers lapsed.

    Nobody who has left the kitchen: its pages are closed to them.
    """
    here = set(members_of(day.kitchen).values_list("user", flat=True)) if lapsed else set()
    concerned = [user for offer, _ in lapsed for user in (offer.offered_by, offer.to) if user is not None]
    people = [user for user in concerned if user.pk in here]
    for user in dict.fromkeys(_others(people, by)):
        lines = [
            lapsed_words(offer, why, user) for offer, why in lapsed if user in (offer.offered_by, offer.to)
        ]
        tell(
            kitchen=day.kitchen,
            to=[user],
            title=f"An offer has lapsed: {day.date:%A %-d %B}",
            lines=lines,
            path=rota_path(day, "rota:mine"),
            at=at,
            begins=day.opens_at,
        )


def lapsed_words(offer: SwapOffer, why: str, reader: User) -> str:
    """That an offer lapsed and why, as its reader knows it."""
    whose = (
        f"Your offer to {offer.to or 'anybody'}"
        if reader == offer.offered_by
        else f"{offer.offered_by}'s offer"
    )
    return f"{whose} has lapsed: {shift_words(offer.shift)}. {why}"


def tell_left(day: HarvestDay, opened: Sequence[Shift], *, lost: User, by: User, at: datetime) -> None:
    """The leads hear that a person who left the kitchen leaves open shifts; that person, that nobody counts on them."""
    if not opened:
        return
    who = f"{lost} has left the kitchen."
    _tell_wanted(day, opened, who, "WATCH OPEN: ", to=_others(_leads(day), lost), at=at)
    why = f"You no longer belong to {day.kitchen}; there is nothing left for you to do in these shifts."
    _tell_lost(day, opened, why, to=_others([lost], by), path=reverse("home:front"), at=at)


def _tell_wanted(
    day: HarvestDay, opened: Sequence[Shift], who: str, loud: str, *, to: Sequence[User], at: datetime
) -> None:
    """The leads hear which shifts are open; ``loud`` begins the title where a watch is among them."""
    lines = [shift_words(shift) for shift in opened]
    watches = any(shift.is_watch for shift in opened)
    tell(
        kitchen=day.kitchen,
        to=to,
        title=(loud if watches else "Somebody is wanted: ") + _counted(lines),
        lines=[f"{who} The loads stay planned.", *lines, *([WATCH_OPEN] if watches else [])],
        path=rota_path(day, "rota:everybody"),
        at=at,
        begins=day.opens_at,
    )


def _tell_lost(
    day: HarvestDay, lost: Sequence[Shift], why: str, *, to: Sequence[User], path: str, at: datetime
) -> None:
    lines = [shift_words(shift) for shift in lost]
    title = f"No longer yours: {_counted(lines)}"
    tell(kitchen=day.kitchen, to=to, title=title, lines=[why, *lines], path=path, at=at, begins=day.opens_at)


def _tell_leads_of_watch(watches: Sequence[Shift], *, told: Iterable[User | None], at: datetime) -> None:
    for shift in watches[:1]:
        day = shift.harvest_day
        lines = [f"At the canner now: {one.user}, {shift_words(one)}" for one in watches]
        tell(
            kitchen=day.kitchen,
            to=_others(_leads(day), *told),
            title=f"A watch changed hands: {shift_words(shift)}",
            lines=lines,
            path=rota_path(day, "rota:everybody"),
            at=at,
            begins=day.opens_at,
        )


def _tell_of(offer: SwapOffer, to: Sequence[User], title: str, lines: Sequence[str], at: datetime) -> None:
    day = offer.shift.harvest_day
    tell(
        kitchen=day.kitchen,
        to=to,
        title=title,
        lines=lines,
        path=rota_path(day, "rota:mine"),
        at=at,
        begins=day.opens_at,
    )


def _leads(day: HarvestDay) -> list[User]:
    return [membership.user for membership in leads_of(day.kitchen)]


def _others(people: Iterable[User], *without: User | None) -> list[User]:
    known = {person.pk for person in without if person is not None}
    return [person for person in people if person.pk not in known]


def _counted(lines: Sequence[str]) -> str:
    more = len(lines) - 1
    return lines[0] if not more else f"{lines[0]}, and {more} more"


def rota_path(day: HarvestDay, name: str) -> str:
    """The address of one of the rota's pages of a day; a day of booked canner time has its run sheets instead."""
    return reverse(name if day.is_harvest else "floor:canners", args=[day.kitchen.slug, day.uuid])
