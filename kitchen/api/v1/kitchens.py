"""The kitchens that one belongs to, their policy and their people."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http.response import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need, PersonView
from kitchen.api.base.fields import Given, RowShown, Shown, WallTime
from kitchen.api.base.listing import Listing
from kitchen.api.models import Scope, Token
from kitchen.members.actions import change_policy
from kitchen.members.models import Kitchen, Membership
from kitchen.members.queries import kitchens_of, members_of
from kitchen.members.rules import POLICY_FIELDS, POLICY_LIMITS, Deed


class KitchenShown(RowShown):
    """A kitchen: where it is, and what it has decided for itself."""

    meat_cut_off = WallTime(allow_null=True)

    class Meta:
        model = Kitchen
        fields = ("id", "name", "slug", "site_code", "altitude_ft", "time_zone", *POLICY_FIELDS)


class PolicyGiven(Given):
    """What a lead changes of the policy; what is not named stays."""

    share_under_longest = serializers.BooleanField(required=False)
    meat_cut_off = WallTime(required=False, allow_null=True)
    plan_by_records = serializers.BooleanField(required=False)
    under_16_may_book = serializers.BooleanField(required=False)
    jar_fee = serializers.CharField(required=False, allow_blank=True, max_length=80)

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        """With a whole number for each policy that has limits, from the table of limits."""
        limited = {
            name: serializers.IntegerField(required=False, min_value=least, max_value=most)
            for name, (least, most, _why) in POLICY_LIMITS.items()
        }
        return super().get_fields() | limited

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a change of nothing."""
        if not attrs:
            raise serializers.ValidationError("Name at least one policy.", code="empty")
        return attrs


class Kitchens(PersonView):
    """All that one belongs to."""

    queryset = Kitchen.objects.none()
    serializer_class = KitchenShown
    pagination_class = None

    @extend_schema(operation_id="kitchens_list")
    def list(self, request: Request) -> Response:
        """The kitchens that I belong to; with a token, its own alone."""
        mine = kitchens_of(self.me)
        if isinstance(request.auth, Token):
            mine = mine.filter(pk=request.auth.kitchen_id)
        return Response(KitchenShown(mine, many=True).data)


class OneKitchen(KitchenView):
    """One kitchen."""

    model, shown, within = Kitchen, KitchenShown, "pk"
    needs = {
        "retrieve": Need(Deed.SEE, Scope.BOARD),
        "partial_update": Need(Deed.CHANGE_POLICY, versioned=True),
    }

    def rows(self) -> QuerySet[Kitchen]:
        """The one."""
        return Kitchen.objects.all()

    @extend_schema(operation_id="kitchens_retrieve")
    def retrieve(self, request: Request, kitchen: UUID) -> HttpResponseBase:
        """Where the kitchen is, and its policy."""
        return self.one(self.here)

    @extend_schema(operation_id="kitchens_policy", request=PolicyGiven, responses=KitchenShown)
    def partial_update(self, request: Request, kitchen: UUID) -> HttpResponseBase:
        """Change what the kitchen has decided for itself, within the safe limits."""
        changes = self.given(PolicyGiven)
        return self.changed(
            self.here.uuid, lambda row: change_policy(kitchen=row, changes=changes, actor=self.me)
        )


class MemberShown(Shown):
    """Somebody who belongs to the kitchen. ``id`` names the person in requests."""

    id = serializers.UUIDField(source="user.uuid")
    name = serializers.CharField(source="user.display_name")

    class Meta:
        model = Membership
        fields = ("id", "name", "role")


class Members(KitchenView):
    """Who belongs to the kitchen."""

    model, shown = Membership, MemberShown
    listing = Listing(MemberShown)
    needs = {"list": Need(Deed.SEE, Scope.BOARD)}

    def rows(self) -> QuerySet[Membership]:
        """Who belongs to it now."""
        return members_of(self.here)

    @extend_schema(operation_id="members_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """The kitchen's people by name and role."""
        return self.page()
