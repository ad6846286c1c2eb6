"""Sheets of labels as a PDF, true to the millimetre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

import segno
from django.utils.translation import gettext
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from kitchen.errors import BadSetting
from kitchen.labels.stock import Sheet
from kitchen.labels.typesetting import Setting, fit
from kitchen.labels.words import LabelWords

_HAIRLINE_MM = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Copies:
    """One label, so many times."""

    words: LabelWords
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ready:
    setting: Setting
    dark: tuple[tuple[int, int, int], ...]


def sheets_pdf(copies: Sequence[Copies], sheet: Sheet, *, start: int = 1, outlines: bool = False) -> bytes:
    """The labels one after the other, beginning at place ``start`` of the first sheet.

    ``outlines`` draws the labels' edges, for plain paper. The same labels give the same bytes.

    Refused: a place that the sheet does not have, and with ``LabelTooSmall`` text that does not fit.
    """
    if not 1 <= start <= sheet.labels:
        raise BadSetting(
            f"The sheet has no label {start}.",
            remedy=f"Count along the rows from the top left, from 1 to {sheet.labels}.",
        )
    width, height = sheet.paper_mm
    held = BytesIO()
    canvas = Canvas(held, pagesize=(width * mm, height * mm), invariant=1)
    canvas.setTitle(gettext("Jar labels"))
    place = start
    for one in copies:
        ready = _ready(one.words, sheet)
        for _ in range(one.count):
            if place > sheet.labels:
                canvas.showPage()
                place = 1
            _draw(canvas, ready, sheet, place, outlines)
            place += 1
    canvas.save()
    return held.getvalue()


def _ready(words: LabelWords, sheet: Sheet) -> _Ready:
    code = segno.make_qr(words.address, error="m")
    matrix = [bytes(row) for row in code.matrix]
    width, height = sheet.label_mm
    setting = fit(
        list(words.blocks()), width_mm=width, height_mm=height, round_=sheet.round, modules=len(matrix)
    )
    return _Ready(setting=setting, dark=tuple(_runs(matrix)))


def _runs(matrix: Sequence[bytes]) -> list[tuple[int, int, int]]:
    """Row, first column and length of each run of dark squares; a run in one piece shows no seams."""
    runs: list[tuple[int, int, int]] = []
    for row, squares in enumerate(matrix):
        start = 0
        for column in range(len(squares) + 1):
            if column < len(squares) and squares[column]:
                continue
            if column > start:
                runs.append((row, start, column - start))
            start = column + 1
    return runs


def _draw(canvas: Canvas, ready: _Ready, sheet: Sheet, place: int, outlines: bool) -> None:
    left, top = sheet.corner_mm(place)
    paper_height = sheet.paper_mm[1]
    if outlines:
        _outline(canvas, sheet, left, paper_height - top)
    for line in ready.setting.lines:
        canvas.setFont(line.font, line.size_pt)
        canvas.drawString((left + line.x_mm) * mm, (paper_height - top - line.y_mm) * mm, line.text)
    module = ready.setting.module_mm
    code_x, code_y = ready.setting.code_mm
    for row, column, length in ready.dark:
        canvas.rect(
            (left + code_x + column * module) * mm,
            (paper_height - top - code_y - (row + 1) * module) * mm,
            length * module * mm,
            module * mm,
            stroke=0,
            fill=1,
        )


def _outline(canvas: Canvas, sheet: Sheet, left: float, up: float) -> None:
    width, height = sheet.label_mm
    canvas.setLineWidth(_HAIRLINE_MM * mm)
    if sheet.round:
        canvas.circle((left + width / 2) * mm, (up - height / 2) * mm, width / 2 * mm)
    else:
        canvas.rect(left * mm, (up - height) * mm, width * mm, height * mm)
