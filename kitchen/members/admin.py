"""The admin pages of leads: their own kitchens only, and every change through the same actions as anywhere."""

from __future__ import annotations

# Any, because Django's admin passes forms and options of many kinds.
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from django.contrib import admin, messages
from django.db.models import ForeignKey, Model, QuerySet
from django.forms import ModelChoiceField, ModelForm
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from kitchen.errors import KitchenError
from kitchen.members.actions import change_policy, change_role, confirm_process, withdraw_process
from kitchen.members.models import (
    CannerTraining,
    ConfirmedProcess,
    FoodTraining,
    Kitchen,
    Membership,
    OpeningHours,
    Role,
    User,
)
from kitchen.members.rules import POLICY_FIELDS
from kitchen.members.trainings import record_food_training, record_training

_Row = TypeVar("_Row", bound=Model)

if TYPE_CHECKING:

    class _Page(admin.ModelAdmin[_Row]):
        """Django's admin class, which takes its model's type for checkers only."""

else:

    class _Page(admin.ModelAdmin, Generic[_Row]):
        """Django's admin class, which takes its model's type for checkers only."""


def kitchens_led(user: User) -> QuerySet[Kitchen]:
    """The kitchens whose admin pages a person may see; a superuser may look into all of them."""
    if user.is_superuser:
        return Kitchen.objects.all()
    return Kitchen.objects.filter(
        memberships__user=user, memberships__role=Role.LEAD, memberships__left_at__isnull=True
    )


def signed_in(request: HttpRequest) -> User:
    """The person behind an admin request, which never comes from nobody."""
    user = request.user
    if not isinstance(user, User):
        raise TypeError("the admin site lets nobody in who has not signed in")
    return user


class LeadAdmin(_Page[_Row]):
    """Rows of the kitchens that a person leads. Nothing can be changed unless a class says how.

    ``kitchen_lookup`` leads from a row to its kitchen. A refusal of an action is shown as a message.
    """

    kitchen_lookup: ClassVar[str] = "kitchen"
    may_add: ClassVar[bool] = False
    may_change: ClassVar[bool] = False
    may_delete: ClassVar[bool] = False
    actions = None

    def get_queryset(self, request: HttpRequest) -> QuerySet[_Row]:
        led = kitchens_led(signed_in(request))
        return super().get_queryset(request).filter(**{f"{self.kitchen_lookup}__in": led})

    def has_module_permission(self, request: HttpRequest) -> bool:
        return isinstance(request.user, User) and kitchens_led(request.user).exists()

    def has_view_permission(self, request: HttpRequest, obj: _Row | None = None) -> bool:
        return self._leads(request, obj)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return self.may_add and self._leads(request, None)

    def has_change_permission(self, request: HttpRequest, obj: _Row | None = None) -> bool:
        return self.may_change and self._leads(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: _Row | None = None) -> bool:
        return self.may_delete and self._leads(request, obj)

    def formfield_for_foreignkey(
        self, db_field: ForeignKey[Any, Any], request: HttpRequest, **options: Any
    ) -> ModelChoiceField[Any] | None:
        """Offer only rows of the kitchens that the person leads."""
        registered = self.admin_site._registry.get(db_field.remote_field.model)
        if isinstance(registered, LeadAdmin):
            options["queryset"] = registered.get_queryset(request)
        return super().formfield_for_foreignkey(db_field, request, **options)

    def changeform_view(
        self,
        request: HttpRequest,
        object_id: str | None = None,
        form_url: str = "",
        extra_context: dict[str, Any] | None = None,
    ) -> HttpResponse:
        try:
            return super().changeform_view(request, object_id, form_url, extra_context)
        except KitchenError as refusal:
            return self._refused(request, refusal)

    def delete_view(
        self, request: HttpRequest, object_id: str, extra_context: dict[str, Any] | None = None
    ) -> HttpResponse:
        try:
            return super().delete_view(request, object_id, extra_context)
        except KitchenError as refusal:
            return self._refused(request, refusal)

    def _refused(self, request: HttpRequest, refusal: KitchenError) -> HttpResponse:
        self.message_user(request, str(refusal), messages.ERROR)
        return HttpResponseRedirect(request.get_full_path())

    def _leads(self, request: HttpRequest, row: _Row | None) -> bool:
        if not self.has_module_permission(request):
            return False
        return row is None or row.pk is None or self.get_queryset(request).filter(pk=row.pk).exists()


@admin.register(Kitchen)
class KitchenAdmin(LeadAdmin[Kitchen]):
    kitchen_lookup = "pk"
    may_change = True
    list_display = ("name", "altitude_ft", "time_zone", "cool_down_minutes")
    readonly_fields = ("name", "slug", "site_code", "altitude_ft", "time_zone")

    def save_model(self, request: HttpRequest, obj: Kitchen, form: ModelForm[Kitchen], change: bool) -> None:
        changes = {name: form.cleaned_data[name] for name in form.changed_data if name in POLICY_FIELDS}
        kept = Kitchen.objects.get(pk=obj.pk)
        change_policy(kitchen=kept, changes=changes, actor=signed_in(request))


@admin.register(OpeningHours)
class OpeningHoursAdmin(LeadAdmin[OpeningHours]):
    list_display = ("kitchen", "weekday", "opens", "closes")


@admin.register(User)
class UserAdmin(LeadAdmin[User]):
    kitchen_lookup = "memberships__kitchen"
    list_display = ("display_name", "email", "is_active")
    fields = ("display_name", "email", "is_active", "date_joined", "last_login")
    search_fields = ("display_name", "email")

    def get_queryset(self, request: HttpRequest) -> QuerySet[User]:
        return super().get_queryset(request).distinct()


@admin.register(Membership)
class MembershipAdmin(LeadAdmin[Membership]):
    may_change = True
    list_display = ("user", "kitchen", "role", "under_16", "left_at")
    list_filter = ("role",)
    fields = ("kitchen", "user", "role", "under_16", "joined_at", "left_at")
    readonly_fields = ("kitchen", "user", "under_16", "joined_at", "left_at")

    def save_model(
        self, request: HttpRequest, obj: Membership, form: ModelForm[Membership], change: bool
    ) -> None:
        kept = Membership.objects.get(pk=obj.pk)
        change_role(membership=kept, role=Role(form.cleaned_data["role"]), actor=signed_in(request))


@admin.register(CannerTraining)
class CannerTrainingAdmin(LeadAdmin[CannerTraining]):
    kitchen_lookup = "membership__kitchen"
    may_add = True
    list_display = ("membership", "trained_on", "expires_on", "trained_by")

    def save_model(
        self, request: HttpRequest, obj: CannerTraining, form: ModelForm[CannerTraining], change: bool
    ) -> None:
        made = record_training(
            membership=obj.membership,
            trained_on=obj.trained_on,
            expires_on=obj.expires_on,
            trained_by=obj.trained_by,
            actor=signed_in(request),
        )
        obj.pk = made.pk


@admin.register(FoodTraining)
class FoodTrainingAdmin(LeadAdmin[FoodTraining]):
    kitchen_lookup = "membership__kitchen"
    may_add = True
    list_display = ("membership", "trained_on", "expires_on", "trained_by")

    def save_model(
        self, request: HttpRequest, obj: FoodTraining, form: ModelForm[FoodTraining], change: bool
    ) -> None:
        made = record_food_training(
            membership=obj.membership,
            trained_on=obj.trained_on,
            expires_on=obj.expires_on,
            trained_by=obj.trained_by,
            actor=signed_in(request),
        )
        obj.pk = made.pk


@admin.register(ConfirmedProcess)
class ConfirmedProcessAdmin(LeadAdmin[ConfirmedProcess]):
    may_add = True
    may_delete = True
    list_display = ("process_key", "publication", "confirmed_by", "confirmed_at")
    fields = ("kitchen", "process_key", "publication")

    def save_model(
        self, request: HttpRequest, obj: ConfirmedProcess, form: ModelForm[ConfirmedProcess], change: bool
    ) -> None:
        made = confirm_process(
            kitchen=obj.kitchen,
            process_key=obj.process_key,
            publication=obj.publication,
            actor=signed_in(request),
        )
        obj.pk = made.pk

    def delete_model(self, request: HttpRequest, obj: ConfirmedProcess) -> None:
        withdraw_process(confirmed=obj, actor=signed_in(request))
