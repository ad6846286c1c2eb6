"""What is pressed under a record."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _


class SignForm(forms.Form):
    """The record as it was shown, by its digest, and what is to be added to it."""

    digest = forms.CharField(max_length=64, widget=forms.HiddenInput)
    note = forms.CharField(required=False, max_length=1000, label=_("Anything to add"))


class ReviewForm(forms.Form):
    """Nothing is missing, or the record goes back with what is."""

    digest = forms.CharField(max_length=64, widget=forms.HiddenInput)
    outcome = forms.ChoiceField(choices=[("reviewed", "reviewed"), ("sent_back", "sent_back")])
    note = forms.CharField(required=False, max_length=1000, label=_("A remark, or what is missing"))
