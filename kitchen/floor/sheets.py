"""Each load of a canner as it is printed: its plan beside what was recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from kitchen.floor.bridge import Water, inches, phase_words, water_for
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import standing_of
from kitchen.planning.models import Load, LoadPhase, LoadPortion, LoadState
from kitchen.rota.models import Shift

# The tap that tells when a phase began; the rest is read off the clock.
_BEGINS: dict[str, tuple[EventKind, ...]] = {
    "heat_up": (EventKind.LOADED,),
    "vent": (EventKind.STEADY_STEAM,),
    "pressure_up": (EventKind.WEIGHT_ON,),
    "process": (EventKind.AT_PRESSURE, EventKind.FULL_BOIL),
    "cool_down": (EventKind.HEAT_OFF,),
    "rest": (EventKind.ZERO_PRESSURE,),
    "unloading": (EventKind.LID_OFF,),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseLine:
    """A phase as planned, and when it began; None where nothing is recorded."""

    words: str
    starts_at: datetime
    ends_at: datetime
    began: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordLine:
    """A line that stands, or that was taken back; ``was`` are the lines that it corrects, the newest first."""

    event: RunEvent
    was: tuple[RunEvent, ...]
    taken_back: RunEvent | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A load as it is printed: its plan beside what was recorded, and who watches it."""

    load: Load
    watches: list[Shift]
    picture: str
    contents: list[tuple[LoadPortion, str]]
    water: Water
    phases: list[PhaseLine]
    record: list[RecordLine]
    planned_out: datetime

    @property
    def is_standing(self) -> bool:
        """Whether its jars are still to come out."""
        return self.load.state in (LoadState.PLANNED, LoadState.RUNNING)


def sheet_of(load: Load, lines: list[RunEvent], watches: list[Shift], pictures: dict[str, str]) -> Sheet:
    """The sheet of a load from its lines, its watches and the pictures by the load's number."""
    phases, standing = list(load.phases.all()), standing_of(lines)
    return Sheet(
        load=load,
        watches=watches,
        picture=pictures.get(str(load.number), ""),
        contents=[(portion, inches(portion.headspace_in)) for portion in load.portions.all()],
        water=water_for(load),
        phases=[_phase_line(phase, standing) for phase in phases],
        record=_record(lines),
        planned_out=phases[-1].ends_at,
    )


def _phase_line(phase: LoadPhase, record: Sequence[RunEvent]) -> PhaseLine:
    kinds = _BEGINS.get(phase.kind, ())
    return PhaseLine(
        words=phase_words(phase.kind),
        starts_at=phase.starts_at,
        ends_at=phase.ends_at,
        began=next((event.at for event in reversed(record) if event.kind in kinds), None),
    )


def _record(lines: Sequence[RunEvent]) -> list[RecordLine]:
    by_pk = {line.pk: line for line in lines}
    withdrawn = {line.corrects_id: line for line in lines if line.withdraws}
    shown = [*standing_of(lines), *(by_pk[pk] for pk in withdrawn if pk is not None)]
    return [
        RecordLine(event=line, was=_corrected_by(line, by_pk), taken_back=withdrawn.get(line.pk))
        for line in sorted(shown, key=lambda line: (line.at, line.pk))
    ]


def _corrected_by(line: RunEvent, by_pk: dict[int, RunEvent]) -> tuple[RunEvent, ...]:
    was: list[RunEvent] = []
    while line.corrects_id is not None:
        line = by_pk[line.corrects_id]
        was.append(line)
    return tuple(was)
