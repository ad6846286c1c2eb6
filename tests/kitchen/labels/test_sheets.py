"""Sheets of labels as an independent reader sees them: pixels, positions in millimetres, and the code."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pypdfium2
import pytest
from pypdfium2 import raw

from kitchen.errors import BadSetting, LabelTooSmall
from kitchen.labels.drawing import Copies, sheets_pdf
from kitchen.labels.stock import SHEETS, Sheet
from kitchen.labels.typesetting import Block, fit
from kitchen.labels.words import LEAST_PT, LOW_ACID, STORE, LabelWords
from scheduler.caution import SHORT_CAUTION

MM_PER_PT = 25.4 / 72
PIXELS_PER_MM = 12
# Half a millimetre, as labels are cut.
NEAR_MM = 0.5

BEANS = LabelWords(
    food="Beans, snap and Italian",
    jar="Raw pack, quart",
    lot="RV-SNABEA-26255-P1-2-A",
    dates=("Processed 12 Sep 2026", "Best by 12 Sep 2027"),
    process="Pressure canned, dial gauge at 12.5 lb (process 11 lb), 25 min.",
    member="Wilhelmina Fenwick-Abernathy",
    storage=f"{STORE} {LOW_ACID}",
    caution=SHORT_CAUTION,
    address="https://kitchen.example.org/lot/RV-SNABEA-26255-P1-2-A",
)
# The longest name in the tables, and a member whose name is one long word.
LONG = replace(
    BEANS,
    food="Fish in pint jars: blue, mackerel, salmon, steelhead, trout and other fatty fish except tuna",
    jar="Raw pack, pint-and-a-half (24 oz)",
    member="Hubertus" * 6,
)
EVERY_SHEET = pytest.mark.parametrize("sheet", SHEETS.values(), ids=lambda sheet: sheet.id)

# Written out on their own: the corner of the last label of each sheet, in millimetres from the paper's top left.
LAST_CORNER_MM = {
    "a4-21": (139.25, 243.75),
    "a4-14": (106.25, 243.75),
    "a4-8": (106.25, 216.2),
    "a4-round-12": (141.0, 212.01),
    "letter-10": (110.35, 215.9),
    "letter-6": (110.35, 182.0),
    "letter-round-12": (143.95, 202.69),
    "letter-round-6": (112.95, 184.2),
}


def pages(pdf: bytes) -> list[pypdfium2.PdfPage]:
    return list(pypdfium2.PdfDocument(pdf))


def pixels(page: pypdfium2.PdfPage) -> np.ndarray[Any, Any]:
    return np.array(page.render(scale=PIXELS_PER_MM * MM_PER_PT, grayscale=True).to_numpy())


def characters(page: pypdfium2.PdfPage) -> Iterator[tuple[str, float, tuple[float, float, float, float]]]:
    """Each visible character, its size in points, and its box in millimetres from the top left."""
    text, height = page.get_textpage(), page.get_height()
    for index in range(text.count_chars()):
        letter = text.get_text_range(index, 1)
        if not letter.strip():
            continue
        left, bottom, right, top = text.get_charbox(index)
        box = (left, height - top, right, height - bottom)
        size = raw.FPDFText_GetFontSize(text.raw, index)
        yield letter, size, tuple(edge * MM_PER_PT for edge in box)


def inside(sheet: Sheet, place: int, box: tuple[float, float, float, float]) -> bool:
    left, top = sheet.corner_mm(place)
    width, height = sheet.label_mm
    if not sheet.round:
        return left <= box[0] and box[2] <= left + width and top <= box[1] and box[3] <= top + height
    corners = [
        (x - left - width / 2, y - top - height / 2) for x in (box[0], box[2]) for y in (box[1], box[3])
    ]
    return all(np.hypot(x, y) <= width / 2 for x, y in corners)


def squeezed(text: str) -> str:
    return "".join(text.split())


@EVERY_SHEET
def test_the_grid_is_the_one_written_down_and_on_the_paper(sheet: Sheet) -> None:
    x, y = sheet.corner_mm(sheet.labels)
    assert (x, y) == pytest.approx(LAST_CORNER_MM[sheet.id])
    (first_x, first_y), (wide, tall) = sheet.first_mm, sheet.paper_mm
    # The same margin on both sides, and labels that do not overlap.
    assert wide - x - sheet.label_mm[0] == pytest.approx(first_x, abs=0.2)
    assert tall - y - sheet.label_mm[1] == pytest.approx(first_y, abs=0.5)
    assert all(pitch >= label for pitch, label in zip(sheet.pitch_mm, sheet.label_mm, strict=True))


@EVERY_SHEET
@pytest.mark.parametrize("words", [BEANS, LONG], ids=["beans", "long"])
def test_every_word_is_on_each_label_and_none_is_small(sheet: Sheet, words: LabelWords) -> None:
    copies = [Copies(words=words, count=sheet.labels)]
    (page,) = pages(sheets_pdf(copies, sheet))
    on_label: dict[int, str] = dict.fromkeys(range(1, sheet.labels + 1), "")
    for letter, size, box in characters(page):
        places = [place for place in on_label if inside(sheet, place, box)]
        assert len(places) == 1, f"{letter} at {box} is on no label"
        on_label[places[0]] += letter
        assert size >= LEAST_PT - 0.01
    wanted = squeezed("".join(block.text for block in words.blocks()))
    assert set(on_label.values()) == {wanted}


@EVERY_SHEET
def test_nothing_is_dark_outside_the_labels_in_use(sheet: Sheet) -> None:
    used = range(2, sheet.labels)
    (page,) = pages(sheets_pdf([Copies(words=BEANS, count=len(used))], sheet, start=2))
    picture = pixels(page)
    assert (picture < 128).any()
    rows, columns = np.indices(picture.shape) / PIXELS_PER_MM
    for place in used:
        left, top = sheet.corner_mm(place)
        width, height = sheet.label_mm
        if sheet.round:
            within = np.hypot(columns - left - width / 2, rows - top - height / 2) <= width / 2
        else:
            within = (columns >= left) & (columns <= left + width) & (rows >= top) & (rows <= top + height)
        assert (picture[within] < 128).any(), f"label {place} is empty"
        picture[within] = 255
    assert (picture > 250).all()


@pytest.mark.parametrize("name", [name for name, sheet in SHEETS.items() if not sheet.round])
@pytest.mark.parametrize("place", [1, 4, 6])
def test_text_begins_two_millimetres_inside_its_label(name: str, place: int) -> None:
    sheet = SHEETS[name]
    (page,) = pages(sheets_pdf([Copies(words=BEANS, count=1)], sheet, start=place))
    boxes = [box for _, _, box in characters(page)]
    left, top = sheet.corner_mm(place)
    # The shapes of letters begin a hair after where they are set, and capitals below the line's top.
    assert min(box[0] for box in boxes) == pytest.approx(left + 2, abs=NEAR_MM)
    assert top + 2 - NEAR_MM <= min(box[1] for box in boxes) <= top + 4


@EVERY_SHEET
def test_the_code_is_read_by_another_program(sheet: Sheet) -> None:
    (page,) = pages(sheets_pdf([Copies(words=LONG, count=1)], sheet, start=sheet.labels))
    picture = pixels(page)
    left, top = (round(edge * PIXELS_PER_MM) for edge in sheet.corner_mm(sheet.labels))
    label = picture[top:, left:]
    found, _, _ = cv2.QRCodeDetector().detectAndDecode(label)
    assert found == LONG.address


def test_labels_run_on_to_the_next_sheet_from_its_first_place() -> None:
    sheet = SHEETS["a4-21"]
    copies = [Copies(words=BEANS, count=3), Copies(words=replace(BEANS, food="Peas"), count=20)]
    first, second = pages(sheets_pdf(copies, sheet, start=20))
    boxes = [box for _, _, box in characters(first)]
    assert {place for box in boxes for place in range(1, 22) if inside(sheet, place, box)} == {20, 21}
    boxes = [box for _, _, box in characters(second)]
    assert {place for box in boxes for place in range(1, 22) if inside(sheet, place, box)} == set(
        range(1, 22)
    )


def test_edges_are_drawn_where_the_labels_are_only_when_asked_for() -> None:
    sheet = SHEETS["a4-14"]
    left, top = sheet.corner_mm(1)
    at = (
        round((top + 19) * PIXELS_PER_MM),
        slice(*(round((left + off) * PIXELS_PER_MM) for off in (-0.5, 0.5))),
    )
    for outlines in (True, False):
        (page,) = pages(sheets_pdf([Copies(words=BEANS, count=1)], sheet, outlines=outlines))
        assert bool((pixels(page)[at] < 200).any()) is outlines


@pytest.mark.parametrize("start", [0, 22])
def test_a_place_that_the_sheet_does_not_have_is_refused(start: int) -> None:
    with pytest.raises(BadSetting, match=f"no label {start}"):
        sheets_pdf([Copies(words=BEANS, count=1)], SHEETS["a4-21"], start=start)


def test_text_that_does_not_fit_at_the_least_size_is_refused_never_cut() -> None:
    with pytest.raises(LabelTooSmall, match="does not fit"):
        sheets_pdf([Copies(words=replace(LONG, storage=LONG.storage * 5), count=1)], SHEETS["a4-21"])


def test_a_line_shrinks_to_its_least_size_and_then_wraps() -> None:
    def sizes(text: str) -> list[tuple[str, float]]:
        block = Block(text=text, size_pt=12, least_pt=8, one_line=True)
        setting = fit([block], width_mm=60, height_mm=40, round_=False, modules=29)
        return [(line.text, line.size_pt) for line in setting.lines]

    assert sizes("Plums") == [("Plums", 12)]
    (whole,) = sizes("Plums in light syrup, halved")
    assert whole[0] == "Plums in light syrup, halved"
    assert 8 < whole[1] < 12
    wrapped = sizes("Plums in light syrup, halved and packed with cinnamon and cloves")
    assert len(wrapped) > 1
    assert {size for _, size in wrapped} == {8}


def test_the_same_labels_give_the_same_bytes() -> None:
    one, two = (sheets_pdf([Copies(words=BEANS, count=5)], SHEETS["letter-10"]) for _ in range(2))
    assert one == two
