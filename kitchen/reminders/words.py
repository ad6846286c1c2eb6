"""What a reminder says, worked out for the moment at which it is read (rules S11, S16, S17)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.urls import reverse

from kitchen.planning.models import Load, LoadPortion
from kitchen.reminders.bridge import CAUTION, moment
from kitchen.reminders.links import CHOICES_PATH, make_link, make_unsubscribe_link
from kitchen.reminders.models import Kind, Reminder
from kitchen.reminders.queries import gathered_in
from kitchen.reminders.rules import DUE_AFTER, Remedy, due_at, remedy_at
from kitchen.reminders.timing import OPTIONAL

BANDS_OFF = "Take the screw bands off first. A jar that is doubtful in one of the tests counts as unsealed."
# USDA AIB 539 (1994), Guide 1, Testing Jar Seals: three ways, here in the project's own words.
PRESS = "Press the middle of the lid with a finger. If it springs up when you let go, it is not sealed."
TAP = (
    "Tap the lid with the bottom of a teaspoon. A clear ring is a good sign. A dull sound is doubtful: the "
    "jar may not be sealed, or food touches the lid."
)
LOOK = (
    "Hold the jar at eye level and look across the lid. It must curve down a little in the middle. A lid "
    "that is flat or bulges may not be sealed."
)
# USDA AIB 539 (1994), Guide 1, Reprocessing Unsealed Jars.
REFRIGERATE = (
    "put it into the refrigerator and use the food within several days, or freeze it (for the freezer leave "
    "1½ inches of headspace)"
)
SAME_PROCESS = (
    "To process again: look at the rim and change the jar if it is nicked, put on a new lid, and give it the "
    "same full process."
)
# USDA AIB 539 (1994), Guide 1, Identifying and Handling Spoiled Canned Food.
FOUND_LATER = "A jar that is found unsealed later, on the shelf: throw it out, and do not taste it."


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A reminder as sentences, for a page or a message to lay out. ``link`` is the address of the form.

    ``hold`` is empty unless the jars are on hold.
    """

    title: str
    greeting: str
    jars: tuple[str, ...]
    timing: str
    hold: str
    bands_off: str
    tests: tuple[str, ...]
    unsealed: tuple[str, ...]
    link: str
    caution: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NewsWords:
    """Anything else as sentences. ``link`` is the whole address of the page where something can be done.

    ``path`` is the same page for somebody who is signed in, and ``link_words`` say what it is. ``choices`` and
    ``unsubscribe`` lead to where this kind of message is chosen or ended; both are empty where there is no choice.
    """

    title: str
    greeting: str
    lines: tuple[str, ...]
    link: str
    path: str
    link_words: str
    choices: str
    unsubscribe: str
    caution: str


def said_of(reminder: Reminder, *, now: datetime) -> Words | NewsWords:
    """The reminder in words, whatever it is about."""
    if reminder.kind in DUE_AFTER:
        return words_of(reminder, now=now)
    told = _TOLD.get(Kind(reminder.kind), _as_written)(reminder, now)
    may_end = reminder.kind in (*OPTIONAL, Kind.DIGEST)
    return NewsWords(
        title=told.title,
        greeting=f"Hello {reminder.recipient},",
        lines=told.lines,
        link=told.link or f"{settings.KITCHEN_URL}{told.path}",
        path=told.path,
        link_words=LINK_WORDS[Kind(reminder.kind)],
        choices=f"{settings.KITCHEN_URL}{CHOICES_PATH}" if may_end else "",
        unsubscribe=make_unsubscribe_link(reminder.recipient, reminder.kind) if may_end else "",
        caution=CAUTION,
    )


def words_of(reminder: Reminder, *, now: datetime) -> Words:
    """A reminder to check seals in words, for its message and for the notice on the member's page."""
    portion, jars_out_at = _jars_of(reminder)
    load = portion.load
    plural = "" if portion.jars == 1 else "s"
    jars = (
        f"{portion.jars} {portion.batch.get_jar_display().lower()} jar{plural} of {portion.batch.food_name}"
    )
    what = "First call" if reminder.kind == Kind.FIRST_CALL else "Seal check"
    return Words(
        title=f"{what}: {jars}, lot {load.lot_code}",
        greeting=f"Hello {reminder.recipient},",
        jars=(
            jars,
            f"Lot {load.lot_code}, from {load.canner.name}",
            f"Out of the canner {moment(jars_out_at, reminder.kitchen.zone)}",
        ),
        timing=_timing(reminder, jars_out_at, now),
        hold=_hold(load),
        bands_off=BANDS_OFF,
        tests=(PRESS, TAP, LOOK),
        unsealed=_unsealed(reminder, now),
        link=make_link(portion, reminder.recipient),
        caution=CAUTION,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """What is particular to one kind. ``link`` is given where it is not the page's own address."""

    title: str
    lines: tuple[str, ...]
    path: str
    link: str = ""


def _as_written(reminder: Reminder, _now: datetime) -> _Told:
    """What happened is written down when it happens, and does not change."""
    news = reminder.news
    return _Told(title=str(news["title"]), lines=tuple(news["lines"]), path=str(news["path"]))


def _digest(reminder: Reminder, now: datetime) -> _Told:
    """What was gathered, each with its title before its lines."""
    gathered = [_as_written(one, now) for one in gathered_in(reminder)]
    number = len(gathered)
    return _Told(
        title=f"{number} messages of today" if number != 1 else "1 message of today",
        lines=tuple(line for one in gathered for line in (f"{one.title}:", *one.lines)),
        path=reverse("home:notices", args=[reminder.kitchen.slug]),
    )


def _deadline(reminder: Reminder, now: datetime) -> _Told:
    """Rule S11: until when jars that did not seal can still be processed again, and what to do when they cannot."""
    portion, _ = _jars_of(reminder)
    number, load = int(reminder.news["jars"]), portion.load
    jars = (
        f"{number} {portion.batch.get_jar_display().lower()} jar{'' if number == 1 else 's'} "
        f"of {portion.batch.food_name}"
    )
    over = remedy_at(now, reminder.reprocess_by) is not Remedy.REPROCESS
    hold = _hold(load)
    return _Told(
        title=f"{'Too late to process again' if over else 'Process again soon'}: {jars}, lot {load.lot_code}",
        lines=(
            *((f"On hold. {hold}",) if hold else ()),
            "These jars did not seal, and no second process of them has begun.",
            *_unsealed(reminder, now),
        ),
        path=reverse("reprocess:by-member", args=[reminder.kitchen.slug, portion.uuid]),
        link=f"{make_link(portion, reminder.recipient)}/again",
    )


_TOLD: dict[Kind, Callable[[Reminder, datetime], _Told]] = {
    Kind.DIGEST: _digest,
    Kind.REPROCESS: _deadline,
}
LINK_WORDS = {
    Kind.REPROCESS: "Book the second process, or write down what became of the jars",
    Kind.GAUGE: "Look at the canner",
    Kind.SHIFT: "Look at the rota",
    Kind.SHELF: "Look at your shelf",
    Kind.ROTA: "Look at the rota",
    Kind.SAFETY: "Look at what it is about",
    Kind.DIGEST: "Look at your notices",
}


def _jars_of(reminder: Reminder) -> tuple[LoadPortion, datetime]:
    """The jars, and when they came out; the database holds that a reminder to check seals has both."""
    assert reminder.portion is not None  # noqa: S101  (see the constraint on the model)
    assert reminder.jars_out_at is not None  # noqa: S101 - for the types
    return reminder.portion, reminder.jars_out_at


def _timing(reminder: Reminder, jars_out_at: datetime, now: datetime) -> str:
    """Rule S11: no test before 12 hours, all lids by 24; the first call leaves room for a reprocess."""
    zone = reminder.kitchen.zone
    rested = moment(due_at(Kind.FIRST_CALL, jars_out_at), zone)
    stood = moment(due_at(Kind.SEAL_CHECK, jars_out_at), zone)
    if reminder.kind == Kind.SEAL_CHECK:
        return f"24 hours out of the canner: {stood}. Test every seal now and write down what you find."
    told = f"Your jars were to stand undisturbed for 12 hours, until {rested}. From then on test their seals."
    if remedy_at(now, reminder.reprocess_by) is not Remedy.REPROCESS:
        return told
    return f"{told} Do it soon: a jar that did not seal can be processed again only if it is found in time."


def _unsealed(reminder: Reminder, now: datetime) -> tuple[str, ...]:
    """What to do with a jar that did not seal; the deadline counts from the end of the first process."""
    remedy = remedy_at(now, reminder.reprocess_by)
    if remedy is Remedy.UNKNOWN or reminder.reprocess_by is None:
        ended = "The end of the process is not on the record, so do not reprocess."
        return (f"{ended} For each unsealed jar: {REFRIGERATE}.", FOUND_LATER)
    deadline = moment(reminder.reprocess_by, reminder.kitchen.zone)
    if remedy is Remedy.TOO_LATE:
        ended = f"The 24 hours after the first process were over {deadline}: do not reprocess."
        return (f"{ended} For each unsealed jar: {REFRIGERATE}.", FOUND_LATER)
    left = _length(reminder.reprocess_by - now)
    start = (
        f"A new process must start before {deadline}, 24 hours after the end of the first one. When this was "
        f"written {left} were left. Heating up takes time, so tell the kitchen at once."
    )
    return (
        start,
        SAME_PROCESS,
        f"If it cannot start in time, do not reprocess: {REFRIGERATE}.",
        FOUND_LATER,
    )


def _hold(load: Load) -> str:
    """Rule S16: jars on hold are nobody's to eat yet, sealed or not."""
    if not load.on_hold:
        return ""
    return f"{load.deviation} Do not use or open any of these jars before the kitchen's lead has decided."


def _length(left: timedelta) -> str:
    """A length rounded down to minutes: a deadline is never shown later than it is."""
    hours, minutes = divmod(int(left.total_seconds() // 60), 60)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min"
