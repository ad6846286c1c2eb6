"""Process records: how far each is, signing and reviewing."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, Shown
from kitchen.api.v1.people import PersonShown
from kitchen.members.rules import Deed
from kitchen.planning.models import Load
from kitchen.records.actions import review_record, send_back_record, sign_record
from kitchen.records.content import record_of
from kitchen.records.models import RecordSignature

_LONGEST_NOTE = 500


class SignatureShown(Shown):
    """Who signed or reviewed it, or sent it back, and for which digest. ``alone``: no other lead could review."""

    by = PersonShown()

    class Meta:
        model = RecordSignature
        fields = ("kind", "by", "at", "digest", "alone", "note")


class SignaturesShown(serializers.Serializer[Any]):
    """How far a record is. ``digest`` is that of the facts as they stand: what is signed names it."""

    digest = serializers.CharField()
    is_out = serializers.BooleanField()
    to_sign = PersonShown(many=True)
    signatures = SignatureShown(many=True)


class SignGiven(Given):
    """The digest of the record that was looked at, and a remark."""

    digest = serializers.CharField(max_length=64)
    note = serializers.CharField(max_length=_LONGEST_NOTE, required=False, allow_blank=True, default="")


class ReviewGiven(SignGiven):
    """Whether nothing is missing, or it goes back, with what is missing in the remark."""

    outcome = serializers.ChoiceField(choices=["reviewed", "sent_back"])


class Records(KitchenView):
    """The records of loads."""

    model, shown, within = Load, SignaturesShown, "harvest_day__kitchen"
    needs = {
        "retrieve": Need(Deed.SEE_RECORDS),
        "sign": Need(Deed.SIGN_RECORD, keyed=True),
        "review": Need(Deed.REVIEW_RECORD, keyed=True),
    }

    def rows(self) -> QuerySet[Load]:
        """Every load."""
        return Load.objects.all()

    @extend_schema(operation_id="records_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, load: UUID) -> Response:
        """Who signed a load's record, and who still has to. What stands in it is the load's record of the floor."""
        return Response(SignaturesShown(record_of(self.found(load))).data)

    @extend_schema(operation_id="records_sign", request=SignGiven, responses={201: SignatureShown})
    def sign(self, request: Request, kitchen: UUID, load: UUID) -> Response:
        """Sign what I wrote in it. Refused when it has changed since."""
        given, found = self.given(SignGiven), self.found(load)

        def put() -> Response:
            signed = sign_record(load=found, by=self.me, **given)
            return Response(SignatureShown(signed).data, status=201)

        return self.once(put)

    @extend_schema(operation_id="records_review", request=ReviewGiven, responses={201: SignatureShown})
    def review(self, request: Request, kitchen: UUID, load: UUID) -> Response:
        """Say that nothing is missing, or send it back."""
        given, found = self.given(ReviewGiven), self.found(load)
        act = send_back_record if given.pop("outcome") == "sent_back" else review_record

        def put() -> Response:
            return Response(SignatureShown(act(load=found, by=self.me, **given)).data, status=201)

        return self.once(put)
