"""Records as a PDF: a flow of tables, one load after the other."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from xml.sax.saxutils import escape

from django.utils.translation import gettext as _
from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)

from kitchen.labels.stock import letter_paper
from kitchen.language.said import said
from kitchen.members.models import Kitchen
from kitchen.records.bridge import CAUTION
from kitchen.records.content import Record
from kitchen.records.sheet import Section, sections_of
from kitchen.typeface import BOLD_FACE, FACE, letters_missing, printable, ready

_MARGIN = 16 * mm
_FOOT = 22 * mm
_CELL = ParagraphStyle("cell", fontName=FACE, fontSize=8, leading=10)
_HEAD = ParagraphStyle("head", parent=_CELL, fontName=BOLD_FACE)
_TITLE = ParagraphStyle("title", fontName=BOLD_FACE, fontSize=15, leading=19, spaceAfter=2 * mm)
_SECTION = ParagraphStyle("section", fontName=BOLD_FACE, fontSize=10, leading=13, spaceBefore=3 * mm)
_PLAIN = ParagraphStyle("plain", fontName=FACE, fontSize=8.5, leading=11)
_CAUTION = ParagraphStyle("caution", fontName=FACE, fontSize=7, leading=8.5)
# Shares of the width; a column not shown leaves its share to the others.
_SHARES = {"at": 17, "what": 24, "value": 20, "who": 17, "written_at": 17, "remark": 32}


class _Document(BaseDocTemplate):
    """Pages with the digest of their record, their number and the caution at the foot (rule S17)."""

    def __init__(self, held: BytesIO, size: tuple[float, float]) -> None:
        super().__init__(
            held,
            pagesize=size,
            invariant=1,
            leftMargin=_MARGIN,
            rightMargin=_MARGIN,
            title=_("Process record"),
        )
        width, height = size
        frame = Frame(_MARGIN, _FOOT, width - 2 * _MARGIN, height - _FOOT - _MARGIN, 0, 0, 0, 0, id="record")
        self.inner = width - 2 * _MARGIN
        self.foot = ""
        self.addPageTemplates(PageTemplate("record", [frame], onPageEnd=self._foot))

    def handle_flowable(self, flowables: list[Flowable]) -> None:
        """Take note of whose record follows, for the foot of its pages."""
        first = flowables[0] if flowables else None
        if isinstance(first, _Foot):
            self.foot = first.text
        super().handle_flowable(flowables)

    def _foot(self, canvas: Canvas, _document: BaseDocTemplate) -> None:
        caution = _paragraph(said(CAUTION), _CAUTION)
        _wide, high = caution.wrap(self.inner, _FOOT)
        caution.drawOn(canvas, _MARGIN, 8 * mm)
        canvas.setFont(FACE, 7)
        canvas.drawString(_MARGIN, 8 * mm + high + 1.5 * mm, self.foot)
        page = _("Page %(number)d") % {"number": canvas.getPageNumber()}
        canvas.drawRightString(_MARGIN + self.inner, 8 * mm + high + 1.5 * mm, page)


class _Foot(Spacer):
    """Says what stands at the foot of the pages from here on."""

    def __init__(self, text: str) -> None:
        super().__init__(0, 0)
        self.text = text


def records_pdf(records: Sequence[Record], kitchen: Kitchen) -> bytes:
    """The records, each beginning on a page of its own. The same records give the same bytes."""
    ready()
    held = BytesIO()
    document = _Document(held, LETTER if letter_paper(kitchen.time_zone) else A4)
    story: list[Flowable] = []
    for record in records:
        story += [PageBreak()] if story else []
        story += _story(record, document.inner)
    document.build(story)
    return held.getvalue()


def _story(record: Record, width: float) -> list[Flowable]:
    lot, zone = record.load.lot_code, record.kitchen.time_zone
    digest = " ".join(record.digest[start : start + 8] for start in range(0, 64, 8))
    state = _("Reviewed.") if record.review else _("Not reviewed as it stands.")
    story: list[Flowable] = [
        _Foot(f"{lot}  SHA-256 {record.digest}"),
        _paragraph(_("Process record, load %(lot)s") % {"lot": lot}, _TITLE),
        _paragraph(f"{state} " + _("Times are those of %(zone)s.") % {"zone": zone}, _PLAIN),
        _paragraph(_("Digest of the record (SHA-256): %(digest)s") % {"digest": digest}, _PLAIN),
    ]
    sections = sections_of(record)
    missing = _letters_missing(sections)
    if missing:
        told = _(
            "This type has no “%(letters)s”; a white square stands for each, the page and the CSV have them."
        )
        story.append(_paragraph(told % {"letters": " ".join(f"U+{ord(one):04X}" for one in missing)}, _PLAIN))
    for section in sections:
        story += _section(section, width)
    return story


def _section(section: Section, width: float) -> list[Flowable]:
    title = _paragraph(section.title, _SECTION)
    if not section.entries:
        return [KeepTogether([title, _paragraph(section.none, _PLAIN)])]
    shares = [_SHARES[column] for column in section.columns]
    # The title is a row of the table, so that it stands above what runs over to the next page too.
    table = Table(
        [
            [title, *[""] * (len(shares) - 1)],
            [_paragraph(heading, _HEAD) for heading in section.headings],
            *[[_cell(cell.text, stands=row.stands) for cell in row.cells] for row in section.rows],
        ],
        colWidths=[width * share / sum(shares) for share in shares],
        repeatRows=2,
        style=_RULES,
    )
    return [table]


_RULES = TableStyle(
    [
        ("SPAN", (0, 0), (-1, 0)),
        ("TOPPADDING", (0, 0), (-1, 0), 3 * mm),
        ("LINEBELOW", (0, 1), (-1, 1), 0.8, colors.black),
        ("LINEBELOW", (0, 2), (-1, -1), 0.25, colors.grey),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 1), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
    ]
)


def _cell(text: str, *, stands: bool) -> Paragraph:
    told = escape(printable(text))
    return Paragraph(told if stands or not told else f"<strike>{told}</strike>", _CELL)


def _paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(printable(text)), style)


def _letters_missing(sections: Sequence[Section]) -> str:
    texts = (cell.text for section in sections for row in section.rows for cell in row.cells)
    return letters_missing("".join(texts))
