"""Fields of forms that take long to write and are mostly the same."""

from __future__ import annotations

from collections.abc import Mapping

from django import forms
from django.forms.renderers import BaseRenderer
from django.utils.safestring import SafeString, mark_safe

from kitchen.language.pieces import kept_text


class KeptSelect(forms.Select):
    """A list to choose from that is long and the same for many: written once for its choices and what is chosen."""

    def render(
        self,
        name: str,
        value: object,
        attrs: Mapping[str, object] | None = None,
        renderer: BaseRenderer | None = None,
    ) -> SafeString:
        """The list as markup, in the reader's language."""
        told = tuple((str(key), str(label)) for key, label in self.choices)
        facts = (name, str(value), sorted((attrs or {}).items()), sorted(self.attrs.items()), told)
        write = super().render
        return mark_safe(  # noqa: S308  # It is what the widget's template gave.
            kept_text("select", facts, lambda: write(name, value, dict(attrs or {}), renderer))
        )
