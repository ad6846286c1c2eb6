"""Rendering a page so that nothing of it is left over."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.template import TemplateDoesNotExist
from django.template.backends.django import DjangoTemplates, Template, reraise
from django.template.context import make_context
from django.utils.safestring import SafeString


class Templates(DjangoTemplates):
    """Django's templates, whose contexts are taken apart once a page is rendered."""

    def get_template(self, template_name: str) -> Template:
        """The template of this name. ``TemplateDoesNotExist`` when there is none."""
        return _Template(super().get_template(template_name).template, self)

    def from_string(self, template_code: str) -> Template:
        """The template that the text is."""
        return _Template(super().from_string(template_code).template, self)


class _Template(Template):
    def render(self, context: dict[str, Any] | None = None, request: HttpRequest | None = None) -> SafeString:
        """The page. A context refers to itself: with all the rows that are shown it would stay in memory until the
        garbage collector looks, which some later page would wait for.
        """
        made = make_context(context, request, autoescape=self.backend.engine.autoescape)
        try:
            return self.template.render(made)
        except TemplateDoesNotExist as missing:
            reraise(missing, self.backend)
        finally:
            made.dicts.clear()
