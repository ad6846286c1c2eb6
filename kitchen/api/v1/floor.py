"""The board of a day, and the process record: reading it, pressing, correcting."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import AwareTime, Given, RowHere, Shown
from kitchen.api.bridge import CAUTION
from kitchen.api.models import Scope
from kitchen.api.v1.days import CannerNamed, LoadShown
from kitchen.api.v1.people import PersonShown
from kitchen.errors import AlreadyRecorded
from kitchen.floor.actions import jars_out, record_event, withdraw_event
from kitchen.floor.handing_over import hand_over
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.pages import CannerPage, canner_pages
from kitchen.floor.queries import line_after, newest_line, whole_record
from kitchen.language.said import said
from kitchen.members.models import User
from kitchen.members.queries import members_of
from kitchen.members.rules import Deed
from kitchen.planning.models import Load
from kitchen.planning.queries import days_of, loads_of, standing_loads
from kitchen.seals.actions import decide_hold
from kitchen.seals.models import HoldOutcome

_MOST_SEEN = 2**63 - 1


class LineShown(Shown):
    """A line of the process record; nothing is ever changed in it. ``corrects`` names an earlier one that was wrong.

    ``taken_by`` took over the watch; ``initial_temp_f`` is that of the food in the coldest jar as the heat goes on.
    """

    id = serializers.IntegerField()
    recorded_by = PersonShown()
    taken_by = PersonShown(allow_null=True)
    corrects = serializers.IntegerField(source="corrects_id", allow_null=True)

    class Meta:
        model = RunEvent
        fields = (
            *("id", "kind", "at", "recorded_at", "recorded_by", "reading_psi", "initial_temp_f", "taken_by"),
            *("note", "corrects", "withdraws"),
        )


class RecordShown(serializers.Serializer[Any]):
    """Every line in the order of writing. ``seen`` is the newest one's id, 0 before the first: a press names it."""

    load = serializers.UUIDField()
    seen = serializers.IntegerField()
    lines = LineShown(many=True)


class _Reading(Given):
    reading_psi = serializers.DecimalField(
        max_digits=4, decimal_places=2, min_value=0, max_value=30, required=False, allow_null=True
    )
    initial_temp_f = serializers.DecimalField(
        max_digits=5, decimal_places=2, min_value=0, max_value=212, required=False, allow_null=True
    )
    to = RowHere(members_of, by="user__uuid", gives="user", required=False, allow_null=True)


class PressGiven(_Reading):
    """A step that happened, now unless ``at`` says otherwise. ``to`` takes over the watch, with ``hand_over`` alone.

    ``initial_temp_f`` goes with ``loaded``. ``deviation``, for jars out alone, says what happened when the record
    before it is incomplete: the jars then go on hold.
    """

    kind = serializers.ChoiceField(choices=EventKind.choices)
    seen = serializers.IntegerField(min_value=0, max_value=_MOST_SEEN)
    at = AwareTime(required=False)
    note = serializers.CharField(max_length=500, required=False, allow_blank=True, default="")
    deviation = serializers.CharField(max_length=500, required=False, allow_blank=True, default="")


class CorrectionGiven(_Reading):
    """When the step really happened, and why the line was wrong. A hand-over says again ``to`` whom."""

    at = AwareTime()
    note = serializers.CharField(max_length=500)


class WithdrawalGiven(Given):
    """Why the line is taken back."""

    note = serializers.CharField(max_length=500)


class HoldDecisionGiven(Given):
    """What becomes of jars on hold, and why (rule S16)."""

    outcome = serializers.ChoiceField(choices=HoldOutcome.choices)
    reason = serializers.CharField(max_length=1000)


class CardShown(serializers.Serializer[Any]):
    """The load at hand at a canner. ``step`` comes next, at once when ``is_due``, else at ``wait_until``."""

    load = serializers.UUIDField()
    number = serializers.IntegerField()
    seen = serializers.IntegerField()
    headline = serializers.CharField()
    step = serializers.ChoiceField(choices=EventKind.choices)
    steps = serializers.ListField(child=serializers.ChoiceField(choices=EventKind.choices))
    is_due = serializers.BooleanField()
    is_lost = serializers.BooleanField()
    since = serializers.DateTimeField(allow_null=True)
    wait_until = serializers.DateTimeField(allow_null=True)
    expected = serializers.DateTimeField(allow_null=True)
    target_reading_psi = serializers.FloatField(allow_null=True)
    watching = PersonShown(many=True)


class CannerOnBoard(serializers.Serializer[Any]):
    """A canner and the load at hand; none when all are done."""

    canner = CannerNamed()
    card = CardShown(allow_null=True)


class BoardShown(serializers.Serializer[Any]):
    """All canners of a day by the server's own clock, ``now``."""

    now = serializers.DateTimeField()
    canners = CannerOnBoard(many=True)
    caution = serializers.CharField()


class Floor(KitchenView):
    """The canners of a day and the records of their loads."""

    model, shown, within = Load, LoadShown, "harvest_day__kitchen"
    needs = {
        "board": Need(Deed.SEE, Scope.BOARD),
        "record": Need(Deed.SEE, Scope.BOARD),
        "press": Need(Deed.RUN_LOAD, Scope.PRESS),
        "correct": Need(Deed.RUN_LOAD, Scope.PRESS),
        "withdraw": Need(Deed.RUN_LOAD, Scope.PRESS),
        "decide": Need(Deed.DECIDE_HOLD),
    }

    def rows(self) -> QuerySet[Load]:
        """Those that stand."""
        return standing_loads()

    @extend_schema(operation_id="days_board", responses=BoardShown)
    def board(self, request: Request, kitchen: UUID, day: UUID) -> Response:
        """All canners of a day, each with the load at hand and its one next step."""
        found = get_object_or_404(days_of(self.here).select_related("kitchen"), uuid=day)
        used = self.here.canners.filter(pk__in=loads_of(found).values("canner")).order_by("code")
        now = timezone.now()
        told = [_canner(page) for page in canner_pages(found, used, now)]
        return Response(BoardShown({"now": now, "canners": told, "caution": CAUTION}).data)

    @extend_schema(operation_id="loads_record", responses=RecordShown)
    def record(self, request: Request, kitchen: UUID, load: UUID) -> Response:
        """The process record of a load."""
        found = self.found(load)
        told = {"load": found.uuid, "seen": newest_line(found), "lines": whole_record(found)}
        return Response(RecordShown(told).data)

    @extend_schema(operation_id="loads_press", request=PressGiven, responses={200: LineShown, 201: LineShown})
    def press(self, request: Request, kitchen: UUID, load: UUID) -> Response:
        """Write down a step. ``seen`` is the newest line that the press was shown for.

        A press that comes twice is answered with the line that stands (200); one that somebody overtook is refused.
        """
        given, found = self.given(PressGiven), self.found(load)
        try:
            line = self._write(found, given)
        except AlreadyRecorded:
            before = line_after(found, given["seen"], EventKind(given["kind"]))
            return Response(LineShown(before).data)
        return Response(LineShown(line).data, status=201)

    @extend_schema(operation_id="lines_correct", request=CorrectionGiven, responses={201: LineShown})
    def correct(self, request: Request, kitchen: UUID, line: int) -> Response:
        """Say when a step really happened; the wrong line stays readable."""
        given, wrong = self.given(CorrectionGiven), self._line(line)
        kind, more = EventKind(wrong.kind), {"at": given["at"], "note": given["note"], "corrects": wrong}
        if kind is EventKind.HAND_OVER:
            written = hand_over(load=wrong.load, to=_taker(given), actor=self.me, **more)
        else:
            written = record_event(load=wrong.load, kind=kind, actor=self.me, **_measured(given), **more)
        return Response(LineShown(written).data, status=201)

    @extend_schema(operation_id="lines_withdraw", request=WithdrawalGiven, responses={201: LineShown})
    def withdraw(self, request: Request, kitchen: UUID, line: int) -> Response:
        """Say that a step did not happen; the line stays readable."""
        given = self.given(WithdrawalGiven)
        written = withdraw_event(event=self._line(line), actor=self.me, note=given["note"])
        return Response(LineShown(written).data, status=201)

    @extend_schema(operation_id="loads_decide", request=HoldDecisionGiven, responses=LoadShown)
    def decide(self, request: Request, kitchen: UUID, load: UUID) -> Response:
        """Decide about jars on hold."""
        given, found = self.given(HoldDecisionGiven), self.found(load)
        outcome = HoldOutcome(given["outcome"])
        decide_hold(load=found, outcome=outcome, by=self.me, reason=given["reason"])
        return Response(self.told(self.found(load)))

    def _write(self, load: Load, given: dict[str, Any]) -> RunEvent | None:
        kind, at, seen = EventKind(given["kind"]), given.get("at") or timezone.now(), given["seen"]
        if kind is EventKind.JARS_OUT:
            jars_out(load=load, at=at, actor=self.me, deviation=given["deviation"], seen=seen)
            return line_after(load, seen, kind)
        more = {"load": load, "at": at, "actor": self.me, "note": given["note"], "seen": seen}
        if kind is EventKind.HAND_OVER:
            return hand_over(to=_taker(given), **more)
        return record_event(kind=kind, **_measured(given), **more)

    def _line(self, line: int) -> RunEvent:
        lines = RunEvent.objects.select_related("load__harvest_day__kitchen", "load__canner", "recorded_by")
        found: RunEvent = get_object_or_404(lines, load__in=self.get_queryset().values("pk"), pk=line)
        return found


def _measured(given: dict[str, Any]) -> dict[str, Any]:
    """What gauge and thermometer showed, as far as it was sent."""
    names = ("reading_psi", "initial_temp_f")
    return {name: float(given[name]) for name in names if given.get(name) is not None}


def _taker(given: dict[str, Any]) -> User:
    to = given.get("to")
    if not isinstance(to, User):
        raise serializers.ValidationError({"to": "Say who takes over the watch."}, code="required")
    return to


def _canner(page: CannerPage) -> dict[str, Any]:
    card = page.card
    if card is None:
        return {"canner": page.canner, "card": None}
    told = {
        "load": card.load.uuid,
        "number": card.load.number,
        "seen": card.seen,
        "headline": said(str(card.headline)),
        "step": card.step,
        "steps": card.steps,
        "is_due": card.is_due,
        "is_lost": card.is_lost,
        "since": card.since,
        "wait_until": card.wait.until if card.wait else None,
        "expected": card.expected,
        "target_reading_psi": card.load.target_reading_psi,
        "watching": [shift.user for shift in card.watching if shift.user is not None],
    }
    return {"canner": page.canner, "card": told}
