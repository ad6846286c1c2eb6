"""A record as sections of lines in words: one text for the page, the CSV and the PDF.

What the program words is in the reader's language here already; what people wrote stays as they wrote it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitchen.floor.models import RunEvent
from kitchen.floor.queries import steps_of
from kitchen.floor.rules import is_between_phases
from kitchen.language.said import said
from kitchen.planning.models import Load
from kitchen.records.bridge import inches, phase_in_words, printed_process
from kitchen.records.content import Record
from kitchen.records.times import corrections_in


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One statement. ``at`` is when it happened, ``written_at`` when it was written down; ``stands`` is off for a line
    that was corrected or taken back.
    """

    what: str
    value: str = ""
    who: str = ""
    at: datetime | None = None
    written_at: datetime | None = None
    remark: str = ""
    stands: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A part of an entry as text, with the column it stands in and that column's heading."""

    column: str
    heading: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """An entry as cells, in the order of its section's columns."""

    cells: tuple[Cell, ...]
    stands: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Entries of one kind. ``key`` names the kind for ever, ``columns`` which parts of an entry a reader is shown.

    ``none`` is said where there is no entry.
    """

    key: str
    title: str
    columns: tuple[str, ...]
    entries: tuple[Entry, ...]
    none: str
    zone: ZoneInfo

    @property
    def headings(self) -> tuple[str, ...]:
        """A heading for each column."""
        headings = _headings()
        return tuple(headings[column] for column in self.columns)

    @property
    def rows(self) -> list[Row]:
        """The entries as text, times as the kitchen's clock shows them."""
        named = list(zip(self.columns, self.headings, strict=True))
        return [
            Row(
                cells=tuple(
                    Cell(column=column, heading=heading, text=self._text(getattr(entry, column)))
                    for column, heading in named
                ),
                stands=entry.stands,
            )
            for entry in self.entries
        ]

    def _text(self, value: datetime | str | None) -> str:
        return clock(value, self.zone) if isinstance(value, datetime) else value or ""


def sections_of(record: Record) -> list[Section]:
    """The record from what was to be done to who answers for it."""
    none = _("Nothing is recorded.")
    told: list[tuple[str, str, str, str, Iterator[Entry]]] = [
        ("load", _("The load"), "what value", none, _load(record)),
        ("jars", _("The jars"), "what value who remark", none, _jars(record)),
        ("plan", _("As planned"), "at what value", none, _plan(record.load)),
        (
            "watch",
            _("At the canner by the rota"),
            "at what who",
            _("The rota names nobody."),
            _watches(record),
        ),
        ("line", _("What was recorded"), "at what value who written_at remark", none, _lines(record)),
        ("times", _("Times of the run"), "what value", none, _times(record)),
        ("deviation", _("Deviations"), "what value", _("None."), _deviations(record.load)),
        ("decision", _("A lead's decisions"), "at what who remark", _("None."), _decisions(record)),
        ("seals", _("Seal checks"), "at what value who remark", _("Not checked yet."), _seals(record)),
        (
            "signature",
            _("Signatures"),
            "at what who remark",
            _("Nobody has signed yet."),
            _signatures(record),
        ),
    ]
    return [
        Section(
            key=key,
            title=title,
            columns=tuple(columns.split()),
            entries=tuple(entries),
            none=empty,
            zone=record.kitchen.zone,
        )
        for key, title, columns, empty, entries in told
    ]


def clock(at: datetime, zone: ZoneInfo) -> str:
    """A moment as the kitchen's clock shows it, with its day."""
    return date_format(at.astimezone(zone), "D j M H:i")


def length(took: timedelta | None) -> str:
    """Whole minutes, cut and never rounded up; that it is not recorded for None."""
    if took is None:
        return _("not recorded")
    return _("%(minutes)d min") % {"minutes": took // timedelta(minutes=1)}


def _headings() -> dict[str, str]:
    return {
        "at": _("When"),
        "what": _("What"),
        "value": _("Value"),
        "who": _("Who"),
        "written_at": _("Written"),
        "remark": _("Remark"),
    }


def _load(record: Record) -> Iterator[Entry]:
    load, kitchen, canner = record.load, record.kitchen, record.load.canner
    yield Entry(what=_("Kitchen"), value=f"{kitchen.name}, {kitchen.altitude_ft:,} ft")
    yield Entry(what=_("Lot code of the load"), value=load.lot_code)
    yield Entry(what=_("Date"), value=date_format(load.harvest_day.date, _("j F Y")))
    yield Entry(what=_("Canner"), value=f"{canner.name} ({canner.code}), {said(canner.get_kind_display())}")
    if record.gauge is not None:
        yield Entry(
            what=_("Gauge, last check"),
            value=_("%(on)s by %(who)s: shows %(error)s lb above the true pressure")
            % {
                "on": date_format(record.gauge.checked_on, _("j F Y")),
                "who": record.gauge.checked_by,
                "error": f"{record.gauge.error_psi:+.2f}",
            },
        )
    elif canner.kind == "dial":
        yield Entry(what=_("Gauge, last check"), value=_("none recorded before that day (rule S8)"))
    yield Entry(what=_("Process"), value=_("%(minutes)d min") % {"minutes": load.process_minutes})
    if load.pressure_psi is not None:
        yield Entry(what=_("Pressure of the process"), value=f"{load.pressure_psi:g} lb")
    if load.target_reading_psi is not None:
        yield Entry(what=_("Reading needed on this gauge"), value=f"{load.target_reading_psi:g} lb")
    yield Entry(what=_("Jars sterilised first"), value=_("yes") if load.sterilise_jars else _("not needed"))
    yield Entry(what=_("Jars of water to fill up"), value=str(load.water_jars))


def _jars(record: Record) -> Iterator[Entry]:
    for portion, code in record.lots:
        batch = portion.batch
        remarks = [
            _("Headspace %(length)s.") % {"length": inches(portion.headspace_in)},
            said(printed_process(portion.process_key)) + ".",
        ]
        if portion.acid:
            remarks.insert(1, _("In each jar: %(acid)s.") % {"acid": _(" or ").join(map(said, portion.acid))})
        yield Entry(
            what=code,
            # Each said by itself: joined, their commas would be taken for those of one sentence.
            value=", ".join(
                (
                    f"{portion.jars} {said(batch.get_jar_display())}",
                    said(batch.food_name),
                    said(batch.get_pack_display()),
                )
            ),
            who=str(batch.member),
            remark=" ".join(remarks),
        )
    # 21 CFR 113.100(a) asks for it; 113.3 defines it as that of the coldest container as the process begins.
    told = record.initial_temp_f
    yield Entry(what=_("Initial temperature"), value=_("not recorded") if told is None else f"{told:g} °F")


def _plan(load: Load) -> Iterator[Entry]:
    for phase in sorted(load.phases.all(), key=lambda one: (one.starts_at, one.pk)):
        yield Entry(
            what=said(phase_in_words(phase.kind)),
            value=length(phase.ends_at - phase.starts_at),
            at=phase.starts_at,
        )


def _watches(record: Record) -> Iterator[Entry]:
    for shift in record.watches:
        until = _("watch until %(end)s") % {"end": clock(shift.ends_at, record.kitchen.zone)}
        yield Entry(what=until, who=str(shift.user), at=shift.starts_at)


def _lines(record: Record) -> Iterator[Entry]:
    place = {line.pk: number for number, line in enumerate(record.lines, start=1)}
    corrections = corrections_in(record.lines)
    for line in record.lines:
        corrector = corrections.get(line.pk)
        yield Entry(
            what=f"{place[line.pk]}. {said(line.get_kind_display())}",
            value=_value(line),
            who=str(line.recorded_by),
            at=line.at,
            written_at=line.recorded_at,
            remark=" ".join(_remarks(record, line, corrector, place)),
            stands=corrector is None and not line.withdraws,
        )


def _value(line: RunEvent) -> str:
    if line.taken_by is not None:
        return _("to %(who)s") % {"who": line.taken_by}
    if line.initial_temp_f is not None:
        return f"{line.initial_temp_f:g} °F"
    return "" if line.reading_psi is None else f"{line.reading_psi:g} lb"


def _remarks(
    record: Record, line: RunEvent, corrector: RunEvent | None, place: dict[int, int]
) -> Iterator[str]:
    after = record.written_after(line)
    if after is not None:
        yield _("Written after %(who)s's press of %(when)s.") % {
            "who": after.by,
            "when": clock(after.at, record.kitchen.zone),
        }
    if line.corrects_id is not None:
        told = _("Takes back line %(line)d.") if line.withdraws else _("Corrects line %(line)d.")
        yield told % {"line": place[line.corrects_id]}
    if corrector is not None:
        told = _("Taken back by line %(line)d.") if corrector.withdraws else _("Corrected by line %(line)d.")
        yield told % {"line": place[corrector.pk]}
    stands = corrector is None and not line.withdraws
    if stands and line.taken_by is not None and not is_between_phases(line, steps_of(record.lines)):
        yield _("Handed over in the middle of a phase.")
    if line.note:
        yield line.note


def _times(record: Record) -> Iterator[Entry]:
    times, load = record.times, record.load
    yield Entry(what=_("Come-up, from heat on"), value=length(times.come_up))
    if load.canner.is_pressure:
        yield Entry(what=_("Vent, steady steam to weight on"), value=length(times.vent))
    yield Entry(
        what=_("Process, as run"),
        value=_("%(took)s of %(needed)d min")
        % {"took": length(times.process), "needed": load.process_minutes},
    )
    if load.canner.is_pressure:
        yield Entry(what=_("Cool-down to zero pressure"), value=length(times.cool_down))
    yield Entry(what=_("Rest before the lid came off"), value=length(times.rest))
    yield Entry(
        what=_("Restarts of the clock"),
        value=ngettext("%(count)d time", "%(count)d times", times.restarts) % {"count": times.restarts},
    )


def _deviations(load: Load) -> Iterator[Entry]:
    for told in load.deviation.splitlines():
        yield Entry(what=said(told), value=_state_of_hold(load))


def _state_of_hold(load: Load) -> str:
    if load.on_hold:
        return _("on hold, not decided")
    return _("thrown out") if load.discarded else _("released by a lead")


def _decisions(record: Record) -> Iterator[Entry]:
    for one in record.decisions:
        yield Entry(
            what=said(one.get_outcome_display()),
            who=str(one.decided_by),
            at=one.decided_at,
            remark=one.reason,
        )


def _seals(record: Record) -> Iterator[Entry]:
    for code, check in record.checks:
        corrected = any(other.corrects_id == check.pk for _code, other in record.checks)
        yield Entry(
            what=code,
            value=_("%(sealed)d sealed, %(unsealed)d not sealed, %(broken)d broken")
            % {"sealed": check.sealed, "unsealed": check.unsealed, "broken": check.broken},
            who=str(check.checked_by),
            at=check.checked_at,
            remark=_("Corrected later.") if corrected else "",
            stands=not corrected,
        )


def _signatures(record: Record) -> Iterator[Entry]:
    standing: Sequence[int] = [one.pk for one in record.standing]
    for one in record.signatures:
        remarks = [one.note] if one.note else []
        if one.alone:
            remarks.append(_("Took part in the run; the kitchen had no other lead."))
        if one.digest != record.digest:
            remarks.append(_("Something was written in the record after this."))
        elif one.kind == "reviewed" and one.deviation != record.load.deviation:
            remarks.append(_("A deviation was found after this."))
        yield Entry(
            what=said(one.get_kind_display()),
            who=str(one.by),
            at=one.at,
            remark=" ".join(remarks),
            stands=one.pk in standing,
        )
    for user in record.to_sign:
        yield Entry(what=_("Not signed yet"), who=str(user))
    for user in record.left:
        yield Entry(what=_("Not signed"), who=str(user), remark=_("Runs no loads here any more."))
