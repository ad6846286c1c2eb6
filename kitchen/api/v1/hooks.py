"""The addresses of programs that are told when jars are due, and what they were told."""

from __future__ import annotations

from uuid import UUID

from django.db.models import QuerySet
from django.http.response import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, RowShown, Shown
from kitchen.api.base.listing import Listing
from kitchen.hooks.actions import MadeHook, add_hook, end_hook, renew_secret, tell_again, try_hook
from kitchen.hooks.models import Hook, Telling
from kitchen.hooks.queries import hooks_of, tellings_of
from kitchen.http.outward import LONGEST_ADDRESS
from kitchen.members.rules import Deed


class HookShown(RowShown):
    """An address that is told; the secret of its signatures was told once."""

    class Meta:
        model = Hook
        fields = ("id", "address", "created_at")


class HookMade(HookShown):
    """With its secret, told this once."""

    secret = serializers.CharField()

    class Meta(HookShown.Meta):
        fields = (*HookShown.Meta.fields, "secret")  # type: ignore[assignment]


class HookGiven(Given):
    """The address of a program: https, and out in the world."""

    address = serializers.CharField(max_length=LONGEST_ADDRESS)


class TellingShown(Shown):
    """A message to an address. ``reminder`` is the kind of reminder, None for a trial."""

    id = serializers.UUIDField()
    hook = serializers.UUIDField(source="hook.uuid")
    reminder = serializers.CharField(source="reminder.kind", default=None, allow_null=True)

    class Meta:
        model = Telling
        fields = ("id", "hook", "reminder", "state", "attempts", "created_at", "done_at", "last_failure")


class Hooks(KitchenView):
    """The addresses that are told."""

    model, shown = Hook, HookShown
    listing = Listing(HookShown)
    needs = {
        "list": Need(Deed.CHANGE_POLICY),
        "retrieve": Need(Deed.CHANGE_POLICY),
        "create": Need(Deed.CHANGE_POLICY),
        "destroy": Need(Deed.CHANGE_POLICY, versioned=True),
        "secret": Need(Deed.CHANGE_POLICY),
        "trial": Need(Deed.CHANGE_POLICY),
    }

    def rows(self) -> QuerySet[Hook]:
        """Those that stand."""
        return hooks_of(self.here)

    @extend_schema(operation_id="hooks_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """The addresses of programs that are told when jars are due."""
        return self.page()

    @extend_schema(operation_id="hooks_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, hook: UUID) -> HttpResponseBase:
        """One of them."""
        return self.one(self.found(hook))

    @extend_schema(operation_id="hooks_add", request=HookGiven, responses={201: HookMade})
    def create(self, request: Request, kitchen: UUID) -> Response:
        """Have a program told when jars are due. The secret of its signatures is told once."""
        made = add_hook(kitchen=self.here, actor=self.me, **self.given(HookGiven))
        return Response(_made(made), status=201)

    @extend_schema(operation_id="hooks_end", responses={204: None})
    def destroy(self, request: Request, kitchen: UUID, hook: UUID) -> HttpResponseBase:
        """Tell an address nothing more."""
        return self.changed(hook, lambda row: end_hook(hook=row, actor=self.me))

    @extend_schema(operation_id="hooks_renew_secret", request=None, responses={201: HookMade})
    def secret(self, request: Request, kitchen: UUID, hook: UUID) -> Response:
        """Sign with another secret from now on; it is told once."""
        return Response(_made(renew_secret(hook=self.found(hook), actor=self.me)), status=201)

    @extend_schema(operation_id="hooks_try", request=None, responses={201: TellingShown})
    def trial(self, request: Request, kitchen: UUID, hook: UUID) -> Response:
        """Send a message that says nothing, to see whether it arrives."""
        trial = try_hook(hook=self.found(hook), actor=self.me)
        return Response(TellingShown(trial).data, status=201)


class Tellings(KitchenView):
    """What programs were told."""

    model, shown, within = Telling, TellingShown, "hook__kitchen"
    listing = Listing(TellingShown)
    needs = {"list": Need(Deed.CHANGE_POLICY), "again": Need(Deed.CHANGE_POLICY)}

    def rows(self) -> QuerySet[Telling]:
        """Those of the addresses that stand."""
        return tellings_of(self.here)

    @extend_schema(operation_id="hook_messages_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """What programs were told, the newest first."""
        return self.page()

    @extend_schema(operation_id="hook_messages_again", request=None, responses={204: None})
    def again(self, request: Request, kitchen: UUID, telling: UUID) -> Response:
        """Send what was given up once more."""
        tell_again(telling=self.found(telling, by="pk"), actor=self.me)
        return Response(status=204)


def _made(made: MadeHook) -> dict[str, object]:
    made.hook.secret = made.secret  # type: ignore[attr-defined]  # For this answer alone.
    return dict(HookMade(made.hook).data)
