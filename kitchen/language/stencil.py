"""Templates of messages, of which thousands go out at once, rendered once and then filled in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from html import escape

from django.template.loader import render_to_string
from django.utils import translation

Values = Mapping[str, str | tuple[str, ...]]

# Of Unicode's private use area, so that neither a template nor the escaping of HTML changes it.
_OPEN, _CLOSE = "\ue100", "\ue101"
_HOLE = re.compile(f"{_OPEN}([0-9]+){_CLOSE}")


def filled(template: str, values: Values) -> str:
    """What this template gives where ``words`` are these values, in the language that is active.

    Of a value the template may only ask whether it is empty and, of several, how many there are; it may not pass them
    through a filter. Values are escaped where the template is one of HTML.
    """
    shape = tuple(
        (name, bool(value) if isinstance(value, str) else len(value)) for name, value in values.items()
    )
    flat = [part for value in values.values() for part in ((value,) if isinstance(value, str) else value)]
    between, holes = _stencil(template, translation.get_language(), shape)
    put = [escape(part) for part in flat] if template.endswith(".html") else flat
    pieces = [between[0]]
    for hole, after in zip(holes, between[1:], strict=True):
        pieces += (put[hole], after)
    return "".join(pieces)


@lru_cache(maxsize=256)
def _stencil(
    template: str, language: str | None, shape: tuple[tuple[str, bool | int], ...]
) -> tuple[tuple[str, ...], tuple[int, ...]]:
    """The template's own words, and which of the values stands between them; the language is the active one."""
    marks: dict[str, str | tuple[str, ...]] = {}
    number = 0
    for name, size in shape:
        many = 1 if isinstance(size, bool) else size
        holes = tuple(f"{_OPEN}{number + place}{_CLOSE}" for place in range(many))
        marks[name] = holes if not isinstance(size, bool) else holes[0] if size else ""
        number += many
    parts = _HOLE.split(render_to_string(template, {"words": marks}))
    return tuple(parts[::2]), tuple(map(int, parts[1::2]))
