"""The picture of a canner: complete, told apart without colour, and fit for a strict content policy."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

from scheduler.jars import JarSize
from scheduler.rack import arrange
from scheduler.rack_drawing import drawing, in_words
from tests.factories.canners import DIAL

SVG = "{http://www.w3.org/2000/svg}"
MIXED = {JarSize.PINT: 8, JarSize.HALF_PINT: 14}


def parsed(picture: str) -> ElementTree.Element:
    """The picture as a tree; it is this program's own output."""
    return ElementTree.fromstring(picture)  # noqa: S314 - not from outside


def texts(picture: ElementTree.Element, tag: str) -> list[str]:
    """What the elements of this tag say, in order."""
    return [element.text or "" for element in picture.iter(f"{SVG}{tag}")]


def test_every_jar_is_drawn_with_its_name_and_its_sizes_pattern() -> None:
    picture = parsed(drawing(DIAL, arrange(DIAL, MIXED)))

    labels = texts(picture, "text")
    fills = [circle.get("fill") for circle in picture.iter(f"{SVG}circle")]
    assert [labels.count(label) for label in ("½ pt", "pt", "Lower layer", "Upper layer")] == [14, 8, 1, 1]
    assert fills.count("url(#rack-dial-half_pint)") == 14
    assert fills.count("url(#rack-dial-pint)") == 8
    assert {pattern.get("id") for pattern in picture.iter(f"{SVG}pattern")} == {
        "rack-dial-half_pint",
        "rack-dial-pint",
    }


def test_the_picture_says_in_words_what_it_shows() -> None:
    picture = parsed(drawing(DIAL, arrange(DIAL, MIXED)))

    assert picture.get("role") == "img"
    assert picture.get("aria-labelledby") == "rack-dial-title rack-dial-desc"
    assert texts(picture, "title") == ["Jars in Old Dial"]
    assert texts(picture, "desc") == ["Lower layer: 13 half-pint. Upper layer: 1 half-pint, 8 pint."]


def test_the_picture_carries_no_inline_style_and_no_script() -> None:
    picture = parsed(drawing(DIAL, arrange(DIAL, MIXED)))

    assert {element.tag.removeprefix(SVG) for element in picture.iter()} == {
        "svg",
        "title",
        "desc",
        "defs",
        "pattern",
        "rect",
        "path",
        "circle",
        "text",
    }
    assert not [element for element in picture.iter() if "style" in element.attrib]


def test_a_name_with_markup_in_it_stays_text() -> None:
    canner = replace(DIAL, id='a"><b', name="<b>Fish & chips</b>")

    picture = parsed(drawing(canner, arrange(canner, {JarSize.QUART: 7})))

    assert texts(picture, "title") == ["Jars in <b>Fish & chips</b>"]
    assert [pattern.get("id") for pattern in picture.iter(f"{SVG}pattern")] == ["rack-a---b-quart"]


def test_every_jar_size_has_a_label_and_a_pattern_of_its_own() -> None:
    pictures = {jar: drawing(DIAL, arrange(DIAL, {jar: 1})) for jar in JarSize}

    labels = {texts(parsed(picture), "text")[0] for picture in pictures.values()}
    strokes = {path.get("d") for picture in pictures.values() for path in parsed(picture).iter(f"{SVG}path")}
    assert len(labels) == len(strokes) == len(JarSize)


def test_an_empty_canner_is_a_ring() -> None:
    picture = parsed(drawing(DIAL, ()))

    assert len(list(picture.iter(f"{SVG}circle"))) == 1
    assert in_words(()) == "No jars."
