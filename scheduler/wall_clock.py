"""A kitchen's clock on the wall and the minutes since a day's origin, both ways.

The origin is local midnight of the date. Minutes are elapsed minutes: on a day on which the clocks change, noon is 660
or 780 of them after midnight, not 720.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from scheduler.errors import BadDay

# A typing guard, with room for every zone's offset.
YEARS = range(2000, 2101)

_WRITTEN = re.compile(
    r"(?:(?P<date>\d{4}-\d{2}-\d{2})[ T])?(?P<hour>\d{2}):(?P<minute>\d{2})(?: ?(?P<offset>[+-]\d{2}:\d{2}))?"
)
_HOW_TO_WRITE = 'Write "09:30", or "2026-09-06 09:30" for another day; "24:00" is the end of a day.'


@dataclass(frozen=True, slots=True, kw_only=True)
class WallClock:
    """The clock of a kitchen on a day. Build it with ``wall_clock``, which refuses an unknown zone."""

    day: date
    zone: ZoneInfo

    @property
    def origin(self) -> datetime:
        """The first moment of the day, in UTC."""
        return datetime.combine(self.day, time(), self.zone).astimezone(UTC)

    def minute(self, written: str) -> int:
        """Minutes from the origin to a time as people write it.

        ``09:30`` is on the clock's day, ``2026-09-06 09:30`` on another; ``24:00`` ends a day. A time that a change of
        the clocks leaves out is refused, with ``BadDay``. One that comes twice needs its offset: ``01:30 -06:00``.
        """
        found = _WRITTEN.fullmatch(written.strip())
        if found is None:
            raise BadDay(f"{written!r} is not a time.", remedy=_HOW_TO_WRITE)
        local = self._local(written, found["date"], int(found["hour"]), int(found["minute"]))
        moments = self._moments(local)
        if not moments:
            raise BadDay(
                f"{written} does not exist on {local:%Y-%m-%d}: the clocks go forward over it.",
                remedy="Give a time before or after the change of the clocks.",
            )
        return self.minute_of(_one_of(written, moments, found["offset"]))

    def minute_of(self, moment: datetime) -> int:
        """Whole minutes from the origin to a moment, rounded down."""
        return (moment - self.origin) // timedelta(minutes=1)

    def moment(self, minute: int) -> datetime:
        """The moment of a minute, in the kitchen's local time."""
        return (self.origin + timedelta(minutes=minute)).astimezone(self.zone)

    def written(self, minute: int) -> str:
        """A minute as ``minute`` reads it back: ``09:30``, ``2026-09-06 09:30``, in an hour that comes twice with its
        offset.
        """
        local = self.moment(minute)
        text = f"{local:%H:%M}" if local.date() == self.day else f"{local:%Y-%m-%d %H:%M}"
        twice = len(self._moments(local.replace(tzinfo=None))) > 1
        return f"{text} {_offset(local)}" if twice else text

    def words(self, minute: int) -> str:
        """``09:30``; on another day ``Sun 6 Sep 09:30``; in an hour that comes twice ``01:30 MST``."""
        local = self.moment(minute)
        text = f"{local:%H:%M}" if local.date() == self.day else f"{local:%a %-d %b %H:%M}"
        twice = len(self._moments(local.replace(tzinfo=None))) > 1
        return f"{text} {local.tzname()}" if twice else text

    def span_words(self, start: int, end: int) -> str:
        """``09:30 to 10:15``; an end on the day that the start names needs no date again."""
        first, last = self.moment(start), self.moment(end)
        same = first.date() == last.date() and first.utcoffset() == last.utcoffset()
        return f"{self.words(start)} to {f'{last:%H:%M}' if same else self.words(end)}"

    def _local(self, written: str, day: str | None, hour: int, minute: int) -> datetime:
        try:
            start = date.fromisoformat(day) if day else self.day
            ends_day = (hour, minute) == (24, 0)
            clock = time() if ends_day else time(hour, minute)
            local = datetime.combine(start + timedelta(days=ends_day), clock)
        except (ValueError, OverflowError):
            raise BadDay(f"{written!r} is not a time.", remedy=_HOW_TO_WRITE) from None
        if local.year not in YEARS:
            raise BadDay(f"{written!r} is not a time of our days.", remedy=_HOW_TO_WRITE)
        return local

    def _moments(self, local: datetime) -> list[datetime]:
        """None, one or two moments at which the clock on the wall shows this."""
        moments: list[datetime] = []
        for fold in (0, 1):
            moment = local.replace(tzinfo=self.zone, fold=fold).astimezone(UTC)
            shows = moment.astimezone(self.zone).replace(tzinfo=None, fold=0)
            if shows == local.replace(fold=0) and moment not in moments:
                moments.append(moment)
        return [moment.astimezone(self.zone) for moment in moments]


def wall_clock(day: date, time_zone: str) -> WallClock:
    """The clock of this zone on this day.

    Refused, with ``BadDay``: a zone that is not in the time zone database, a year outside ``YEARS``.
    """
    check_year(day)
    try:
        zone = ZoneInfo(time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise BadDay(
            f"No time zone is called {time_zone!r}.",
            remedy='Use a name of the time zone database, for instance "America/Denver".',
        ) from None
    return WallClock(day=day, zone=zone)


def check_year(day: date) -> None:
    """``BadDay`` when the year lies outside ``YEARS``."""
    if day.year not in YEARS:
        raise BadDay(f"The date is {day}.", remedy=f"Give a year from {YEARS[0]} to {YEARS[-1]}.")


def _one_of(written: str, moments: list[datetime], offset: str | None) -> datetime:
    by_offset = {_offset(moment): moment for moment in moments}
    if offset in by_offset:
        return by_offset[offset]
    choices = " or ".join(f'"{moment:%H:%M} {shift}"' for shift, moment in by_offset.items())
    if offset is not None:
        raise BadDay(f"{written} carries an offset that is not the kitchen's.", remedy=f"Write {choices}.")
    if len(moments) > 1:
        raise BadDay(
            f"{written} comes twice that day: the clocks go back over it.", remedy=f"Say which: {choices}."
        )
    return moments[0]


def _offset(moment: datetime) -> str:
    """``-06:00``."""
    written = f"{moment:%z}"
    return f"{written[:3]}:{written[3:5]}"
