"""The lead's page of what the kitchen decides for itself, each with its limits and the reason for them."""

from __future__ import annotations

from typing import Any  # A form takes what was sent as it came.

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from kitchen.errors import KitchenError
from kitchen.members.actions import change_policy
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_for, person
from kitchen.members.rules import POLICY_FIELDS, POLICY_LIMITS, Deed

SECTIONS: dict[str, dict[str, str]] = {
    "At the canner": {
        "canners_per_person": "Canners that one person watches",
        "cool_down_minutes": "Least cool-down of a light canner, minutes",
        "share_under_longest": "Foods whose times differ may share a load, at the longest time",
        "fill_wait_limit_minutes": "Longest wait of a filled jar, minutes",
        "loading_minutes": "Loading a canner, minutes",
        "unloading_minutes": "Unloading a canner, minutes",
    },
    "After the canner": {
        "cooling_hold_hours": "Hours that jars stand",
        "cleaning_minutes": "Cleaning after meat and fish, minutes",
        "meat_cut_off": "Meat and fish out by (empty: no cut-off)",
        "best_by_months": "Best by, months after processing",
    },
    "People": {
        "prep_hands": "People at the prep of one batch, at most",
        "fill_hands": "People who fill one load, at most",
        "break_minutes": "A rest, minutes",
        "break_every_minutes": "Longest work without a rest, minutes",
        "meal_minutes": "A meal, minutes",
        "meal_after_minutes": "Longest work without a meal, minutes",
        "longest_shift_minutes": "Longest day of one person, minutes",
        "rest_minutes": "Rest between two days, minutes",
        "walking_minutes": "From one station to another, minutes",
    },
    "Planning and booking": {
        "plan_by_records": "Plan by this kitchen's own measured times",
        "kept_percent": "Loads of a hundred that keep a learned time",
        "hold_minutes": "A chosen time is held, minutes",
        "most_in_group": "People who come with one booking, at most",
        "under_16_may_book": "Members under 16 may book",
        "jar_fee": "Fee for a jar, as it is printed",
    },
}


class PolicyForm(forms.Form):
    """Every policy with its limits."""

    def __init__(self, *args: Any, kitchen: Kitchen, **more: Any) -> None:
        more["initial"] = {name: getattr(kitchen, name) for name in POLICY_FIELDS}
        super().__init__(*args, **more)
        for names in SECTIONS.values():
            for name, label in names.items():
                self.fields[name] = _field(name, label)

    def sections(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields under their headings."""
        return [(title, [self[name] for name in names]) for title, names in SECTIONS.items()]


def policy(request: HttpRequest, kitchen: str) -> HttpResponse:
    """What the kitchen decides for itself; each change is recorded."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_POLICY)
    form = PolicyForm(request.POST or None, kitchen=here)
    refusal: KitchenError | None = None
    if request.method == "POST" and form.is_valid():
        changes = {name: value for name, value in form.cleaned_data.items() if value != getattr(here, name)}
        try:
            if changes:
                change_policy(kitchen=here, changes=changes, actor=person(request))
        except KitchenError as refused:
            refusal = refused
        else:
            messages.success(
                request, "Changed. Plans made before are out of date." if changes else "Nothing changed."
            )
            return redirect("members:policy", here.slug)
    status = 422 if refusal is not None or form.errors else 200
    return render(
        request, "members/policy.html", {"kitchen": here, "form": form, "refusal": refusal}, status=status
    )


def _field(name: str, label: str) -> forms.Field:
    if name in POLICY_LIMITS:
        least, most, why = POLICY_LIMITS[name]
        told = f"From {least} to {most}: {why}."
        return forms.IntegerField(label=label, min_value=least, max_value=most, help_text=told)
    if name == "meat_cut_off":
        return forms.TimeField(label=label, required=False, widget=forms.TimeInput(attrs={"type": "time"}))
    if name == "jar_fee":
        return forms.CharField(label=label, required=False, max_length=80)
    return forms.BooleanField(label=label, required=False)
