"""The one place where it is settled who asks, in which kitchen, and whether they may."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, NoReturn, final
from uuid import UUID

from django.db import transaction
from django.db.models import Model, QuerySet
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.cache import patch_cache_control
from rest_framework.exceptions import AuthenticationFailed, MethodNotAllowed, NotAuthenticated, NotFound
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer, Serializer
from rest_framework.viewsets import GenericViewSet

from kitchen.api.base.fields import Given
from kitchen.api.base.listing import Listing
from kitchen.api.base.once import once
from kitchen.api.base.problems import MEDIA_TYPE, InvalidQuery, ProblemRenderer
from kitchen.api.base.versions import check_version, with_etag
from kitchen.api.errors import TokenTooNarrow
from kitchen.api.models import Scope, Token
from kitchen.http.size import check_size
from kitchen.members.models import Kitchen, Role, User
from kitchen.members.queries import membership_of
from kitchen.members.rules import Deed, allows, check_may


@dataclass(frozen=True, slots=True)
class Need:
    """What an operation asks of the person, by the one table of deeds, and of a token.

    ``keyed``: it must carry an ``Idempotency-Key``; ``versioned``: it must say what it was decided on.
    """

    deed: Deed
    scope: Scope = Scope.EVERYTHING
    keyed: bool = False
    versioned: bool = False


class PersonView(GenericViewSet[Any]):
    """Something that a signed-in person asks, of no kitchen in particular."""

    me: User

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Settle who asks."""
        check_size(request._request)
        super().initial(request, *args, **kwargs)
        if self.action not in self.action_map.values():
            raise MethodNotAllowed(request.method or "")
        if not isinstance(request.user, User):
            raise NotAuthenticated
        self.me = request.user

    def perform_authentication(self, request: Request) -> None:
        """Who it is; whoever sends wrong tokens is counted too."""
        try:
            super().perform_authentication(request)
        except AuthenticationFailed:
            self.check_throttles(request)
            raise

    def permission_denied(
        self, request: Request, message: str | None = None, code: str | None = None
    ) -> NoReturn:
        """Refuse, and count strangers: otherwise they would be sent away before anybody counts."""
        if not isinstance(request.user, User):
            self.check_throttles(request)
        super().permission_denied(request, message, code)

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Response:
        """The answer; a problem is JSON whatever the operation gives."""
        answer = super().finalize_response(request, response, *args, **kwargs)
        if not answer.has_header("Cache-Control"):
            patch_cache_control(answer, private=True, no_store=True)  # It is about people.
        if getattr(answer, "exception", False):
            answer.accepted_renderer, answer.accepted_media_type = ProblemRenderer(), MEDIA_TYPE
        return answer


class KitchenView(PersonView):
    """Something in one kitchen. Every operation says in ``needs`` what it needs; one that does not is closed.

    Whoever does not belong to the kitchen learns nothing: it is not found. A subclass says in ``rows`` what a person
    may see, and in ``within`` how a row leads to its kitchen; that it is this kitchen is added here, for all of them.
    """

    needs: ClassVar[Mapping[str, Need]] = {}
    within: ClassVar[str] = "kitchen"
    model: ClassVar[type[Model]]
    shown: ClassVar[type[BaseSerializer[Any]]]
    listing: ClassVar[Listing | None] = None
    """How a list is told faster than row by row; None where what is told is in no column."""

    here: Kitchen
    role: Role

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Settle who asks, in which kitchen, and whether role and token allow it."""
        super().initial(request, *args, **kwargs)
        need = self.needs[str(self.action)]
        self.here, self.role = _settle(request, self.me, self.kwargs["kitchen"])
        if isinstance(request.auth, Token) and not request.auth.opens(need.scope):
            raise TokenTooNarrow
        if not allows(self.role, need.deed):
            check_may(self.me, self.here, need.deed)  # Which says what is missing.

    def may(self, deed: Deed) -> bool:
        """True when the person's role allows it."""
        return allows(self.role, deed)

    def rows(self) -> QuerySet[Any]:
        """The rows that the person may see, of whatever kitchen: none where a view does not say which."""
        return self.model._default_manager.none()

    @final
    def get_queryset(self) -> QuerySet[Any]:
        """``rows``, of this kitchen alone."""
        if getattr(self, "swagger_fake_view", False):
            return KitchenView.rows(self)
        return self.rows().filter(**{self.within: self.here.pk})

    def get_serializer_class(self) -> type[BaseSerializer[Any]]:
        """What is told."""
        return self.shown

    def get_serializer_context(self) -> dict[str, Any]:
        """With the kitchen, for fields that name its rows."""
        context = dict(super().get_serializer_context())
        if getattr(self, "swagger_fake_view", False):
            return context
        mine = {"here": self.here, "me": self.me, "for_others": self.may(Deed.ACT_FOR_OTHERS)}
        return context | mine

    def found(self, uuid: UUID | int, *, by: str = "uuid") -> Any:
        """The row with this id, if the person may see it; not found otherwise."""
        return get_object_or_404(self.get_queryset(), **{by: uuid})

    def told(self, row: object) -> dict[str, Any]:
        """The row as it is told."""
        return dict(self.get_serializer(row).data)

    def page(self) -> Response:
        """The rows that the filters leave, a page of them."""
        rows, listing = self.filter_queryset(self.get_queryset()), self.listing
        if listing is None:
            told = self.get_serializer(self.paginate_queryset(rows), many=True).data
        else:
            told = listing.told(self.paginate_queryset(listing.read(rows)) or ())
        return self.get_paginated_response(told)

    def one(self, row: object, status: int = 200) -> HttpResponseBase:
        """The row with its ETag."""
        return with_etag(self.request, self.told(row), status)

    def given(self, form: type[Serializer[Any]], *, partial: bool = False) -> dict[str, Any]:
        """What was sent, read by this serializer."""
        read = form(data=self.request.data, context=self.get_serializer_context(), partial=partial)
        read.is_valid(raise_exception=True)
        return dict(read.validated_data)

    def asked(self, form: type[Given]) -> dict[str, Any]:
        """What stands behind the question mark, read by this serializer."""
        read = form(data=self.request.query_params.dict(), context=self.get_serializer_context())
        if not read.is_valid():
            raise InvalidQuery(read.errors)
        return dict(read.validated_data)

    def once(self, do: Callable[[], Response]) -> Response:
        """Do it, or give the answer that its ``Idempotency-Key`` had before."""
        return once(self.request, self.me, do, needed=self.needs[str(self.action)].keyed)

    def changed(
        self, uuid: UUID | int, change: Callable[[Any], Any], *, by: str = "uuid"
    ) -> HttpResponseBase:
        """Change a row that is still as the caller read it; nobody changes it between the look and the change.

        ``change`` gives the row as it is then, or None when there is nothing left to tell.
        """
        with transaction.atomic():
            row = get_object_or_404(self.get_queryset().select_for_update(of=("self",)), **{by: uuid})
            check_version(self.request, self.told(row))
            after = change(row)
        if after is None:
            return Response(status=204)
        return self.one(self.found(getattr(after, by), by=by))


def _settle(request: Request, me: User, uuid: UUID) -> tuple[Kitchen, Role]:
    """The kitchen in the address and the person's role there; not found for whoever does not belong to it."""
    kitchen = Kitchen.objects.filter(uuid=uuid).first()
    membership = None if kitchen is None else membership_of(me, kitchen)
    elsewhere = (
        isinstance(request.auth, Token) and kitchen is not None and request.auth.kitchen_id != kitchen.pk
    )
    if kitchen is None or membership is None or elsewhere:
        raise NotFound
    return kitchen, Role(membership.role)
