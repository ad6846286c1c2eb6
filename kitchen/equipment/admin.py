"""The admin pages of the equipment. Burners, kettles and tables are added; canners are changed as well."""

from __future__ import annotations

from django.contrib import admin
from django.forms import ModelForm
from django.http import HttpRequest

from kitchen.equipment.actions import (
    CANNER_FIELDS,
    add_burner,
    add_canner,
    add_cooling_table,
    add_kettle,
    change_canner,
    record_gauge_check,
)
from kitchen.equipment.models import Burner, Canner, CannerTime, CoolingTable, GaugeCheck, Kettle
from kitchen.members.admin import LeadAdmin, signed_in


@admin.register(Burner)
class BurnerAdmin(LeadAdmin[Burner]):
    may_add = True
    list_display = ("name", "kitchen", "power_w", "efficiency")

    def save_model(self, request: HttpRequest, obj: Burner, form: ModelForm[Burner], change: bool) -> None:
        made = add_burner(
            kitchen=obj.kitchen,
            name=obj.name,
            power_w=obj.power_w,
            efficiency=obj.efficiency,
            actor=signed_in(request),
        )
        obj.pk = made.pk


@admin.register(Canner)
class CannerAdmin(LeadAdmin[Canner]):
    may_add = True
    may_change = True
    list_display = ("code", "name", "kitchen", "kind", "burner", "out_of_service_reason")
    list_filter = ("kind",)
    fields = ("kitchen", *CANNER_FIELDS, "out_of_service_reason")
    readonly_fields = ("out_of_service_reason",)

    def save_model(self, request: HttpRequest, obj: Canner, form: ModelForm[Canner], change: bool) -> None:
        given = {name: form.cleaned_data[name] for name in CANNER_FIELDS}
        if change:
            changes = {name: given[name] for name in form.changed_data if name in given}
            change_canner(canner=Canner.objects.get(pk=obj.pk), changes=changes, actor=signed_in(request))
            return
        made = add_canner(kitchen=obj.kitchen, actor=signed_in(request), **given)
        obj.pk = made.pk

    def get_readonly_fields(self, request: HttpRequest, obj: Canner | None = None) -> tuple[str, ...]:
        """A canner stays in its kitchen."""
        return ("out_of_service_reason", "kitchen") if obj else ("out_of_service_reason",)


@admin.register(GaugeCheck)
class GaugeCheckAdmin(LeadAdmin[GaugeCheck]):
    kitchen_lookup = "canner__kitchen"
    may_add = True
    list_display = ("canner", "checked_on", "error_psi", "checked_by")
    fields = ("canner", "checked_on", "error_psi", "checked_by")

    def save_model(
        self, request: HttpRequest, obj: GaugeCheck, form: ModelForm[GaugeCheck], change: bool
    ) -> None:
        made = record_gauge_check(
            canner=obj.canner,
            checked_on=obj.checked_on,
            error_psi=obj.error_psi,
            checked_by=obj.checked_by,
            actor=signed_in(request),
        )
        obj.pk = made.pk


@admin.register(Kettle)
class KettleAdmin(LeadAdmin[Kettle]):
    may_add = True
    list_display = ("name", "kitchen", "volume_qt", "burner")

    def save_model(self, request: HttpRequest, obj: Kettle, form: ModelForm[Kettle], change: bool) -> None:
        made = add_kettle(
            kitchen=obj.kitchen,
            name=obj.name,
            volume_qt=obj.volume_qt,
            burner=obj.burner,
            actor=signed_in(request),
        )
        obj.pk = made.pk


@admin.register(CoolingTable)
class CoolingTableAdmin(LeadAdmin[CoolingTable]):
    may_add = True
    list_display = ("name", "kitchen", "area_sq_in")

    def save_model(
        self, request: HttpRequest, obj: CoolingTable, form: ModelForm[CoolingTable], change: bool
    ) -> None:
        made = add_cooling_table(
            kitchen=obj.kitchen, name=obj.name, area_sq_in=obj.area_sq_in, actor=signed_in(request)
        )
        obj.pk = made.pk


@admin.register(CannerTime)
class CannerTimeAdmin(LeadAdmin[CannerTime]):
    list_display = ("canner", "starts_at", "ends_at", "purpose", "occupies")
