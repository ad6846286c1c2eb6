"""What members ask of a rota."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction
from django.http.response import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, RowHere
from kitchen.api.base.versions import check_version, with_etag
from kitchen.helping.actions import set_wishes
from kitchen.helping.models import Feeling, Station, StationWish, Wishes
from kitchen.helping.queries import wishes_of
from kitchen.members.models import Membership
from kitchen.members.queries import members_of, membership_of
from kitchen.members.rules import Deed, check_may

_DAY_MINUTES = 24 * 60


class OfWhom(Given):
    """Whose; left away for one's own. A lead may name anybody."""

    member = RowHere(members_of, by="user__uuid", required=False)


class WishesGiven(OfWhom):
    """All of them, in the place of what was said before. ``most_minutes`` is the limit of a day, null for none.

    ``comes_with``: only together with this person. ``learning``: at a canner, beside somebody trained.
    """

    likes = serializers.ListField(child=serializers.ChoiceField(choices=Station.choices), max_length=10)
    cannot = serializers.ListField(child=serializers.ChoiceField(choices=Station.choices), max_length=10)
    most_minutes = serializers.IntegerField(min_value=1, max_value=_DAY_MINUTES, allow_null=True)
    comes_with = RowHere(members_of, by="user__uuid", allow_null=True)
    learning = serializers.BooleanField()


class WishesShown(serializers.Serializer[Any]):
    """What a member asks of a rota."""

    likes = serializers.ListField(child=serializers.CharField())
    cannot = serializers.ListField(child=serializers.CharField())
    most_minutes = serializers.IntegerField(allow_null=True)
    comes_with = serializers.UUIDField(allow_null=True)
    learning = serializers.BooleanField()


class WishesOf(KitchenView):
    """One's own, for a lead anybody's."""

    model, shown = Wishes, WishesShown
    needs = {"retrieve": Need(Deed.JOIN_ROTA), "update": Need(Deed.JOIN_ROTA, versioned=True)}

    @extend_schema(operation_id="wishes_retrieve", parameters=[OfWhom], responses=WishesShown)
    def retrieve(self, request: Request, kitchen: UUID) -> HttpResponseBase:
        """What I ask of a rota."""
        return with_etag(request, _told(self._whose(self.asked(OfWhom))))

    @extend_schema(operation_id="wishes_set", request=WishesGiven, responses=WishesShown)
    def update(self, request: Request, kitchen: UUID) -> HttpResponseBase:
        """Say what I ask of a rota."""
        given = self.given(WishesGiven)
        whose = self._whose(given)
        given.pop("member", None)
        likes, cannot = ({Station(one) for one in given.pop(name)} for name in ("likes", "cannot"))
        with transaction.atomic():
            whose = Membership.objects.select_for_update(of=("self",)).get(pk=whose.pk)
            check_version(request, _told(whose))
            set_wishes(membership=whose, likes=likes, cannot=cannot, actor=self.me, **given)
        return with_etag(request, _told(whose))

    def _whose(self, given: dict[str, Any]) -> Membership:
        whose: Membership | None = given.get("member") or membership_of(self.me, self.here)
        if whose is None:
            raise NotFound
        if whose.user_id != self.me.pk:
            check_may(self.me, self.here, Deed.ACT_FOR_OTHERS)
        return whose


def _told(whose: Membership) -> dict[str, object]:
    wishes = wishes_of(whose)
    said = StationWish.objects.filter(membership=whose).order_by("station").values_list("feeling", "station")
    told = {
        "likes": [station for feeling, station in said if feeling == Feeling.LIKES],
        "cannot": [station for feeling, station in said if feeling == Feeling.CANNOT],
        "most_minutes": wishes.most_minutes,
        "comes_with": wishes.comes_with.user.uuid if wishes.comes_with else None,
        "learning": wishes.learning,
    }
    return dict(WishesShown(told).data)
