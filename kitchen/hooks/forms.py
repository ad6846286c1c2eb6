"""The form of an address to be told."""

from __future__ import annotations

from django import forms

from kitchen.http.outward import LONGEST_ADDRESS


class HookForm(forms.Form):
    """An address, which the action looks at."""

    address = forms.CharField(
        label="Address of the program",
        max_length=LONGEST_ADDRESS,
        help_text="One that begins with https:// and works from everywhere.",
        widget=forms.URLInput,
    )
