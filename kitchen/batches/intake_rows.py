"""What the rows of a table would bring to a harvest day, and every problem of each before anything is written."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time
from decimal import Decimal

from kitchen.batches.bridge import Estimate, check_process, estimate, kinds_in_use, knows_food
from kitchen.batches.models import Batch, BatchState, Jar, Pack, Unit
from kitchen.batches.rules import Day, check_jars, check_stay, check_within_day
from kitchen.batches.sheet import Line, lines_of, why_no_text
from kitchen.errors import BadIntake, BadTable
from kitchen.language.said import said
from kitchen.language.units import kilograms_as_pounds
from kitchen.members.models import Kitchen, User
from kitchen.members.queries import confirmed_process_keys, members_of
from kitchen.members.rules import Deed, can

HEADINGS: Mapping[str, str] = {
    "food": "Food",
    "amount": "How much",
    "unit": "Counted in",
    "jar": "Jars",
    "pack": "Pack",
    "arrives": "Arrives at",
    "picks_up": "Picked up by",
    "member": "E-mail address of the member",
}
"""The columns by the words of the intake form; any of the names to the left does as well."""
REQUIRED = ("food", "amount", "unit", "jar", "pack")
_KILOGRAMS = "kilograms"
_MOST_GUESSES = 10
"""For so many unknown names the nearest foods are looked for, which takes its time."""
_AMOUNT = re.compile(r"([0-9]{1,6})(?:[.,]([0-9]{1,2}))?")
_TIME = re.compile(r"([01]?[0-9]|2[0-3])[:.]([0-5][0-9])(?::00)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """What is wrong in one cell, or in the row when ``column`` is empty, and what to do."""

    column: str
    message: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a row would bring, as ``declare_batch`` takes it."""

    member: User
    food: str
    pack: str
    jar: str
    amount: Decimal
    unit: str
    arrives_at: datetime
    picks_up_at: datetime


@dataclass(slots=True, kw_only=True)
class Row:
    """A row: its cells by column, what it would bring and make, and its problems; without any it can be noted."""

    number: int
    cells: Mapping[str, str]
    wanted: Wanted | None = None
    makes: Estimate | None = None
    problems: list[Problem] = field(default_factory=list)

    def wrong(self, column: str, message: str, remedy: str) -> None:
        """Note a problem."""
        self.problems.append(Problem(column=HEADINGS.get(column, ""), message=message, remedy=remedy))


@dataclass(frozen=True, slots=True)
class Place:
    """Where the rows are brought, and who brings them: read once for all rows."""

    kitchen: Kitchen
    day: Day
    actor: User
    people: Mapping[str, User]
    kinds: frozenset[str]
    confirmed: frozenset[str]
    standing: frozenset[tuple[object, ...]]
    unknown: set[str] = field(default_factory=set)


def read_rows(*, kitchen: Kitchen, harvest_day_id: int, text: str, actor: User) -> list[Row]:
    """Every row with its problems. ``BadTable`` for a text that is no table, or lacks a heading."""
    lines = lines_of(text)
    columns = _columns(lines[0])
    place = _place(kitchen, harvest_day_id, actor)
    rows: list[Row] = []
    seen: dict[tuple[object, ...], int] = {}
    for line in lines[1:]:
        row = _row(line, columns)
        _read(row, place)
        if not row.problems:
            _check_new(row, place, seen)
        rows.append(row)
    return rows


def _place(kitchen: Kitchen, harvest_day_id: int, actor: User) -> Place:
    day = kitchen.harvest_days.get(pk=harvest_day_id)
    for_others = can(actor, kitchen, Deed.ACT_FOR_OTHERS)
    people = {one.user.email: one.user for one in members_of(kitchen)} if for_others else {}
    standing = Batch.objects.filter(harvest_day=day).exclude(state=BatchState.CANCELLED)
    same = ("member_id", "food_id", "pack", "jar", "amount", "unit", "arrives_at", "picks_up_at")
    return Place(
        kitchen=kitchen,
        day=day,
        actor=actor,
        people={actor.email: actor, **people},
        kinds=kinds_in_use(kitchen),
        confirmed=confirmed_process_keys(kitchen),
        standing=frozenset(standing.values_list(*same)),
    )


def _columns(head: Line) -> list[str]:
    """The column of each heading; a heading that means nothing is refused, so that no figure is lost."""
    known = {_plain(name): key for key, label in HEADINGS.items() for name in (key, label, said(label))}
    found = [known.get(_plain(name), "") for name in head.cells]
    strange = [name for name, column in zip(head.cells, found, strict=True) if name and not column]
    if strange:
        raise BadTable(
            f"No column is called {strange[0][:40]!r}.",
            remedy=f"The headings are: {', '.join(said(label) for label in HEADINGS.values())}.",
        )
    for column in REQUIRED:
        if column not in found:
            raise BadTable(
                f"The column {HEADINGS[column]} is missing.",
                remedy="Add it, with its heading in the first row.",
            )
    twice = [column for column in found if column and found.count(column) > 1]
    if twice:
        raise BadTable(
            f"The column {HEADINGS[twice[0]]} stands there twice.", remedy="Take one of them away."
        )
    return found


def _row(line: Line, columns: list[str]) -> Row:
    cells = dict.fromkeys(HEADINGS, "")
    cells |= {column: cell for column, cell in zip(columns, line.cells, strict=False) if column}
    row = Row(number=line.number, cells=cells)
    if any(line.cells[len(columns) :]):
        row.wrong(
            "",
            "It has more cells than there are headings.",
            "Put text that holds a comma between quotation marks.",
        )
    for column, cell in cells.items():
        if why := why_no_text(cell):
            row.wrong(column, why, "Type it anew.")
    return row


def _read(row: Row, place: Place) -> None:
    """Read each cell, then look at what they make together."""
    if row.problems:
        return
    for column in REQUIRED:
        if not row.cells[column]:
            row.wrong(column, "Nothing stands there.", "Fill it in.")
    amount = _amount(row)
    unit = _choice(row, "unit", [*Unit.choices, (_KILOGRAMS, _KILOGRAMS)])
    jar, pack = _choice(row, "jar", Jar.choices), _choice(row, "pack", Pack.choices)
    arrives_at = _moment(row, "arrives", place.kitchen, place.day.opens_at)
    picks_up_at = _moment(row, "picks_up", place.kitchen, place.day.closes_at)
    member = _member(row, place)
    if row.problems:
        return
    if unit == _KILOGRAMS:
        unit, amount = Unit.POUNDS.value, kilograms_as_pounds(amount)
    row.wanted = Wanted(
        member=member,
        food=row.cells["food"],
        pack=pack,
        jar=jar,
        amount=amount,
        unit=unit,
        arrives_at=arrives_at,
        picks_up_at=picks_up_at,
    )
    _weigh(row, row.wanted, place)


# A reader notes a problem and gives something of its kind, which nobody looks at then.


def _amount(row: Row) -> Decimal:
    found = _AMOUNT.fullmatch(row.cells["amount"])
    amount = Decimal(f"{found[1]}.{found[2] or 0}") if found else Decimal(0)
    if row.cells["amount"] and not amount:
        row.wrong(
            "amount", "This is no amount.", "Write a number above 0, such as 12 or 1.5, without its unit."
        )
    return amount


def _choice(row: Row, column: str, choices: Sequence[tuple[str, str]]) -> str:
    """One of these, by value or by its words in English or in the reader's language."""
    known = {_plain(word): value for value, label in choices for word in (value, label, said(label))}
    found = known.get(_plain(row.cells[column]), "")
    if row.cells[column] and not found:
        words = ", ".join(said(label) for _, label in choices)
        row.wrong(column, "That is not one of the choices.", f"Choose from: {words}.")
    return found


def _moment(row: Row, column: str, kitchen: Kitchen, usual: datetime) -> datetime:
    """A time on the kitchen's wall; what is empty is when the day begins or ends."""
    usual = usual.astimezone(kitchen.zone)
    if not (cell := row.cells[column]):
        return usual
    if (found := _TIME.fullmatch(cell)) is None:
        row.wrong(column, "This is no time.", "Write it like 14:30.")
        return usual
    return datetime.combine(usual.date(), time(int(found[1]), int(found[2])), tzinfo=kitchen.zone)


def _member(row: Row, place: Place) -> User:
    email = row.cells["member"].casefold()
    if not email or email in place.people:
        return place.people[email] if email else place.actor
    if len(place.people) > 1:
        row.wrong(
            "member", "Nobody here has this e-mail address.", "Correct it, or take the person in first."
        )
    else:
        row.wrong("member", "Only a lead may bring for others.", "Leave it empty.")
    return place.actor


def _weigh(row: Row, wanted: Wanted, place: Place) -> None:
    checks: tuple[tuple[str, Callable[[], object]], ...] = (
        ("arrives", lambda: check_stay(wanted.arrives_at, wanted.picks_up_at)),
        ("arrives", lambda: check_within_day(place.kitchen, place.day, wanted.arrives_at)),
    )
    for column, check in checks:
        try:
            check()
        except BadIntake as refusal:
            row.wrong(column, refusal.message, refusal.remedy)
            break
    if not knows_food(wanted.food):
        place.unknown.add(wanted.food)
        if len(place.unknown) > _MOST_GUESSES:
            row.wrong(
                "food", "No food is called so in the published tables.", "Choose one from the list of foods."
            )
            return
    try:
        row.makes = estimate(food=wanted.food, amount=wanted.amount, unit=wanted.unit, jar=wanted.jar)
        check_jars(row.makes.jars_high)
        check_process(
            food=row.makes.food_id,
            pack=wanted.pack,
            jar=wanted.jar,
            kinds=place.kinds,
            altitude_ft=place.kitchen.altitude_ft,
            confirmed=place.confirmed,
        )
    except BadIntake as refusal:
        row.wrong("food", refusal.message, " ".join([refusal.remedy, *refusal.published]))


def _check_new(row: Row, place: Place, seen: dict[tuple[object, ...], int]) -> None:
    """The same twice is a slip, or a press that came twice."""
    if row.wanted is None or row.makes is None:
        return
    one = row.wanted
    what = (row.makes.food_id, one.pack, one.jar, one.amount, one.unit)
    same = (one.member.pk, *what, one.arrives_at, one.picks_up_at)
    if same in place.standing:
        row.wrong("", "Exactly this is noted already.", "Take the row away, or write both amounts as one.")
    elif same in seen:
        row.wrong(
            "", f"Row {seen[same]} says the same.", "Take one of them away, or write both amounts as one."
        )
    else:
        seen[same] = row.number


def _plain(words: str) -> str:
    return " ".join(re.findall(r"\w+", words.replace("_", " ").casefold()))
