"""What is typed to sign in by a code."""

from __future__ import annotations

from django import forms


class AskForm(forms.Form):
    """Where a code shall be sent. The field is called as on the sign-in page, whose form may be sent here as well."""

    username = forms.EmailField(
        label="E-mail address", max_length=254, widget=forms.EmailInput(attrs={"autocomplete": "username"})
    )


class CodeForm(forms.Form):
    """The code from the message."""

    code = forms.CharField(
        label="Code from the message",
        max_length=40,
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "autofocus": True,
            }
        ),
    )
