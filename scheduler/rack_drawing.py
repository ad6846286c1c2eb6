"""A picture of the jars in a canner, for the run sheet."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.sax.saxutils import escape

from scheduler.canner import Canner
from scheduler.jars import JarSize
from scheduler.rack import Place

# The picture is drawn in hundredths of an inch.
_UNITS_PER_IN = 100
_MARGIN = 60
_CAPTION = 70

_LABELS: dict[JarSize, str] = {
    JarSize.QUARTER_PINT: "4 oz",
    JarSize.HALF_PINT: "½ pt",
    JarSize.TWELVE_OUNCE: "12 oz",
    JarSize.PINT: "pt",
    JarSize.PINT_AND_HALF: "1½ pt",
    JarSize.QUART: "qt",
    JarSize.HALF_GALLON: "½ gal",
}

# One pattern a size, told apart without colour: the strokes inside a 30 by 30 tile.
_PATTERNS: dict[JarSize, str] = {
    JarSize.QUARTER_PINT: "M15 14v2",
    JarSize.HALF_PINT: "M0 15H30",
    JarSize.TWELVE_OUNCE: "M15 0V30",
    JarSize.PINT: "M0 30L30 0",
    JarSize.PINT_AND_HALF: "M0 0L30 30",
    JarSize.QUART: "",
    JarSize.HALF_GALLON: "M0 15H30M15 0V30",
}


def drawing(canner: Canner, places: tuple[Place, ...]) -> str:
    """The places as an SVG picture: each layer from above, each jar with its size's name and pattern.

    Presentation attributes only, so that it passes a content policy without inline style. The title and the
    description say the same in words. Ids carry the canner's id, so that pictures of several canners share
    one page.
    """
    return "".join(_parts(canner, places))


def in_words(places: tuple[Place, ...]) -> str:
    """What the picture shows: for each layer the number of jars of each size."""
    layers = []
    for number in _layer_numbers(places):
        sizes = [place.jar for place in places if place.layer == number]
        jars = ", ".join(f"{sizes.count(jar)} {jar.words}" for jar in JarSize if jar in sizes)
        layers.append(f"{_layer_name(number, places)}: {jars}.")
    return " ".join(layers) or "No jars."


def _parts(canner: Canner, places: tuple[Place, ...]) -> Iterator[str]:
    numbers = _layer_numbers(places) or [1]
    radius = canner.inside_diameter_in * _UNITS_PER_IN / 2
    step = 2 * radius + _MARGIN
    width, height = step * len(numbers) + _MARGIN, step + _MARGIN + _CAPTION
    key = "rack-" + re.sub(r"[^A-Za-z0-9_-]", "-", canner.id)
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" role="img" '
        f'aria-labelledby="{key}-title {key}-desc" font-family="sans-serif" text-anchor="middle">'
        f'<title id="{key}-title">Jars in {escape(canner.name)}</title>'
        f'<desc id="{key}-desc">{escape(in_words(places))}</desc><defs>'
    )
    for jar in sorted({place.jar for place in places}):
        yield _pattern(key, jar)
    yield "</defs>"
    for index, number in enumerate(numbers):
        x, y = _MARGIN + radius + index * step, _MARGIN + radius
        yield (
            f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{radius:.0f}" fill="none" stroke="#222" stroke-width="8"/>'
        )
        for place in (place for place in places if place.layer == number):
            yield _jar(key, place, x, y)
        yield (
            f'<text x="{x:.0f}" y="{height - _MARGIN:.0f}" font-size="60" fill="#222">'
            f"{_layer_name(number, places)}</text>"
        )
    yield "</svg>"


def _pattern(key: str, jar: JarSize) -> str:
    return (
        f'<pattern id="{key}-{jar.value}" width="30" height="30" patternUnits="userSpaceOnUse">'
        f'<rect width="30" height="30" fill="#fff"/>'
        f'<path d="{_PATTERNS[jar]}" fill="none" stroke="#999" stroke-width="4"/></pattern>'
    )


def _jar(key: str, place: Place, middle_x: float, middle_y: float) -> str:
    # The page's y axis points down, the rack's up.
    x, y = middle_x + place.x_in * _UNITS_PER_IN, middle_y - place.y_in * _UNITS_PER_IN
    radius = place.diameter_in * _UNITS_PER_IN / 2
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="url(#{key}-{place.jar.value})" '
        f'stroke="#222" stroke-width="5"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius * 0.62:.1f}" fill="#fff"/>'
        f'<text x="{x:.1f}" y="{y + 18:.1f}" font-size="56" fill="#222">{_LABELS[place.jar]}</text>'
    )


def _layer_numbers(places: tuple[Place, ...]) -> list[int]:
    return sorted({place.layer for place in places})


def _layer_name(number: int, places: tuple[Place, ...]) -> str:
    if len(_layer_numbers(places)) < 2:
        return "One layer"
    return "Lower layer" if number == 1 else "Upper layer"
