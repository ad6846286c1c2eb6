"""A load's process record read whole: the plan's facts, every line ever written, and who signed.

What it holds follows the forms that 21 CFR 113.100(a) asks of a cannery with still retorts: product, code, date,
retort, container size and count, initial temperature, actual process time, readings, steam on, up to temperature and
off, vent.
It is background for a home-use kitchen, not binding on it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime

from django.db.models import Prefetch, QuerySet

from kitchen.equipment.models import CannerKind, GaugeCheck
from kitchen.equipment.queries import newest_of
from kitchen.errors import RecordChanged
from kitchen.floor.models import RunEvent
from kitchen.floor.queries import lines_of, steps_of
from kitchen.labels.lot_code import lot_code
from kitchen.members.models import Kitchen, Role, User
from kitchen.members.queries import roles_in
from kitchen.members.rules import Deed, allows
from kitchen.planning.models import Load, LoadPortion, LoadState
from kitchen.records.models import RecordSignature, SignatureKind
from kitchen.records.times import Times, times_in
from kitchen.rota.models import Shift
from kitchen.seals.models import HoldDecision, SealCheck

_FORM = 1
"""Of the facts that the digest is made of; raised when what it covers changes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What is read of a load for its record: jars, lines and signatures in the order of writing, and every check of its
    canner's gauge.
    """

    portions: tuple[LoadPortion, ...]
    lines: tuple[RunEvent, ...]
    signatures: tuple[RecordSignature, ...]
    checks: tuple[GaugeCheck, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """How far the record of a load is. ``lines`` holds every line in the order of writing, ``signatures`` likewise.

    ``gauge`` is the dial's last check up to that day. ``to_sign`` names those who wrote in it and have not signed it
    as it stands; ``left`` those who wrote in it and run no loads here any more, whose signature is not waited for.
    """

    load: Load
    gauge: GaugeCheck | None
    lines: tuple[RunEvent, ...]
    signatures: tuple[RecordSignature, ...]
    writers: tuple[User, ...]
    to_sign: tuple[User, ...]
    left: tuple[User, ...]
    digest: str

    @property
    def kitchen(self) -> Kitchen:
        """Whose record it is."""
        return self.load.harvest_day.kitchen

    @property
    def is_out(self) -> bool:
        """True once the jars are out: until then there is nothing to sign."""
        return self.load.state in (LoadState.OUT, LoadState.CLOSED) and bool(self.lines)

    @property
    def standing(self) -> tuple[RecordSignature, ...]:
        """Signatures under the record as it is now, since it was last sent back."""
        return tuple(one for one in since_sent_back(self.signatures) if one.digest == self.digest)

    @property
    def review(self) -> RecordSignature | None:
        """The review that stands: of these lines, knowing of these deviations."""
        return next(
            (
                one
                for one in reversed(self.standing)
                if one.kind == SignatureKind.REVIEWED and one.deviation == self.load.deviation
            ),
            None,
        )

    @property
    def sent_back(self) -> RecordSignature | None:
        """What a lead found missing, until it is reviewed."""
        back = [one for one in self.signatures if one.kind == SignatureKind.SENT_BACK]
        return back[-1] if back and self.review is None else None

    @property
    def initial_temp_f(self) -> float | None:
        """The food's temperature in the coldest jar as the heat went on, in °F; None where nobody wrote it down."""
        return next((one.initial_temp_f for one in steps_of(self.lines)), None)

    @property
    def newest_line(self) -> RunEvent:
        """The line written last. The caller knows that there is one."""
        return self.lines[-1]

    @property
    def changed_since_signed(self) -> bool:
        """True when a signature lies under a record that is no longer this one."""
        return any(one.digest != self.digest for one in self.signatures)

    def check_same(self, digest: str) -> None:
        """Refuse what was pressed under a record that has changed since it was shown."""
        if digest != self.digest:
            raise RecordChanged(
                "This record has changed since you opened it.", remedy="Read it again, then press again."
            )

    def written_after(self, line: RunEvent) -> RecordSignature | None:
        """The last signature that was there before this line was written, None when nobody had signed."""
        before = [one for one in self.signatures if one.last_line_id < line.pk]
        return before[-1] if before else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Record(Listed):
    """The record of a load, whole."""

    lots: tuple[tuple[LoadPortion, str], ...]
    watches: tuple[Shift, ...]
    decisions: tuple[HoldDecision, ...]
    checks: tuple[tuple[str, SealCheck], ...]
    times: Times


def since_sent_back(signatures: Sequence[RecordSignature]) -> tuple[RecordSignature, ...]:
    """The signatures after the last that sent the record back; all of them when none did."""
    backs = [place for place, one in enumerate(signatures) if one.kind == SignatureKind.SENT_BACK]
    return tuple(signatures[backs[-1] + 1 :] if backs else signatures)


def record_of(load: Load) -> Record:
    """The record of one load."""
    (found,) = records_of(Load.objects.filter(pk=load.pk))
    return found


def records_of(loads: QuerySet[Load]) -> list[Record]:
    """The records of these loads, in as many queries for one as for a thousand."""
    found = list(
        loads.select_related("canner__burner").prefetch_related(
            "canner__gauge_checks",
            "harvest_day__kitchen",
            "cooling_table",
            "phases",
            Prefetch("portions", queryset=LoadPortion.objects.select_related("batch").order_by("pk")),
            "portions__batch__member",
            Prefetch("portions__seal_checks", queryset=SealCheck.objects.select_related("checked_by")),
            Prefetch(
                "shifts",
                queryset=Shift.objects.filter(cancelled_at__isnull=True, station="canner", user__isnull=False)
                .select_related("user")
                .order_by("starts_at", "pk"),
            ),
            Prefetch(
                "hold_decisions", queryset=HoldDecision.objects.select_related("decided_by").order_by("pk")
            ),
            Prefetch(
                "record_signatures", queryset=RecordSignature.objects.select_related("by").order_by("pk")
            ),
        )
    )
    kitchens = {load.harvest_day.kitchen for load in found}
    roles = {kitchen.pk: roles_in(kitchen) for kitchen in kitchens}
    lines = lines_of(found)
    return [
        _record(
            load,
            listed(
                load,
                Read(
                    portions=tuple(load.portions.all()),
                    lines=tuple(lines[load.pk]),
                    signatures=tuple(load.record_signatures.all()),
                    checks=tuple(load.canner.gauge_checks.all()),
                ),
                roles[load.harvest_day.kitchen_id],
            ),
        )
        for load in found
    ]


def facts_of(load: Load, gauge: GaugeCheck | None, read: Read) -> dict[str, object]:
    """What is signed: what was to be done, with which jars, and every line. People and things stand by their ids, so
    that a record does not change when somebody's name does.
    """
    return {
        "form": _FORM,
        "load": [str(load.uuid), load.lot_code, str(load.canner.uuid)],
        "process": [load.method, load.pressure_psi, load.target_reading_psi, load.process_minutes],
        "filling": [load.sterilise_jars, load.water_jars],
        "gauge": None if gauge is None else [gauge.checked_on.isoformat(), str(gauge.error_psi)],
        "jars": [
            [
                str(one.uuid),
                one.batch.food_id,
                one.batch.pack,
                one.batch.jar,
                one.jars,
                one.process_key,
                one.headspace_in,
                one.acid,
            ]
            for one in read.portions
        ],
        "lines": [
            [
                one.pk,
                one.kind,
                _moment(one.at),
                one.reading_psi,
                _moment(one.recorded_at),
                str(one.recorded_by.uuid),
                one.corrects_id,
                one.withdraws,
                one.note,
                *_added(one),
            ]
            for one in read.lines
        ],
    }


def _added(line: RunEvent) -> list[object]:
    """What lines came to hold later; nothing where they hold none of it, so that what was signed before stays so."""
    told: list[object] = []
    if line.taken_by is not None:
        told.append(["taken_by", str(line.taken_by.uuid)])
    if line.initial_temp_f is not None:
        told.append(["initial_temp_f", line.initial_temp_f])
    return told


def digest_of(facts: dict[str, object]) -> str:
    """SHA-256 of the facts as JSON with sorted keys and no blanks, in UTF-8; 64 hexadecimal digits."""
    told = json.dumps(facts, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(told.encode()).hexdigest()


def listed(load: Load, read: Read, roles: Mapping[int, Role]) -> Listed:
    """How far a record is, for what was read of it. ``roles`` are those of the kitchen's people."""
    is_dial = load.canner.kind == CannerKind.DIAL
    gauge = newest_of(read.checks, load.harvest_day.date) if is_dial else None
    digest = digest_of(facts_of(load, gauge, read))
    lines, signatures = read.lines, read.signatures
    writers = tuple({one.recorded_by_id: one.recorded_by for one in lines}.values())
    signed = {
        one.by_id
        for one in since_sent_back(signatures)
        if one.kind == SignatureKind.SIGNED and one.digest == digest
    }
    waited, may_sign = [one for one in writers if one.pk not in signed], _who_may_sign(load, roles)
    return Listed(
        load=load,
        gauge=gauge,
        lines=lines,
        signatures=signatures,
        writers=writers,
        to_sign=tuple(one for one in waited if one.pk in may_sign),
        left=tuple(one for one in waited if one.pk not in may_sign),
        digest=digest,
    )


def _record(load: Load, listed: Listed) -> Record:
    lots = tuple(
        (one, lot_code(load.lot_code, place)) for place, one in enumerate(load.portions.all(), start=1)
    )
    return Record(
        **{one.name: getattr(listed, one.name) for one in fields(listed)},
        lots=lots,
        watches=tuple(load.shifts.all()),
        decisions=tuple(load.hold_decisions.all()),
        checks=tuple((code, check) for one, code in lots for check in one.seal_checks.all()),
        times=times_in(listed.lines),
    )


def _who_may_sign(load: Load, roles: Mapping[int, Role]) -> frozenset[int]:
    """Operators sign what they wrote; in canner time that was booked, any member who wrote in the record."""
    return frozenset(
        user for user, role in roles.items() if load.slot_id is not None or allows(role, Deed.SIGN_RECORD)
    )


def _moment(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="microseconds")
