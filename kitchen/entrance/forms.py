"""What is typed to sign in by a code, or to add a passkey."""

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


class PasskeyForm(forms.Form):
    """What a passkey shall be called, and the password of whoever adds it."""

    name = forms.CharField(
        label="What you call it, such as the device",
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    password = forms.CharField(
        label="Your password",
        strip=False,
        max_length=500,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
