"""A load's sheet as it stands on the run sheet, written once while all in it is as it is."""

from __future__ import annotations

from django.http import HttpRequest
from django.middleware.csrf import get_token
from django.utils.safestring import SafeString

from kitchen.equipment.models import Canner
from kitchen.floor.models import RunEvent
from kitchen.floor.pages import CannerPage
from kitchen.floor.sheets import RecordLine, Sheet
from kitchen.language.pieces import columns_of, kept_forms
from kitchen.members.models import Kitchen
from kitchen.planning.models import Load


def written_sheets(
    request: HttpRequest, kitchen: Kitchen, page: CannerPage, *, caution: str, **rights: bool
) -> list[SafeString]:
    """The sheets of a canner's loads. ``rights`` are those of the reader, as the templates ask for them."""
    secret, at_hand = get_token(request), page.card.load if page.card else None
    return [_written(secret, kitchen, page.canner, one, at_hand, caution, rights) for one in page.sheets]


def _written(
    secret: str,
    kitchen: Kitchen,
    canner: Canner,
    sheet: Sheet,
    at_hand: Load | None,
    caution: str,
    rights: dict[str, bool],
) -> SafeString:
    facts = (
        kitchen.slug,
        columns_of(canner),
        sheet.load == at_hand,
        caution,
        sorted(rights.items()),
        *sheet_facts(sheet),
    )
    shown = {
        "kitchen": kitchen,
        "canner": canner,
        "sheet": sheet,
        "load": sheet.load,
        "at_hand": at_hand,
        "caution": caution,
        **rights,
    }
    return kept_forms(secret, "floor/sheet.html", facts, lambda: shown, kitchen.zone)


def sheet_facts(sheet: Sheet) -> tuple[object, ...]:
    """All that was read for the sheet, column by column, so that nothing that is shown can be missing here."""
    return (
        columns_of(sheet.load),
        str(sheet.load.cooling_table),
        [(columns_of(one), str(one.user)) for one in sheet.watches],
        sheet.picture,
        [
            (columns_of(portion), columns_of(portion.batch), str(portion.batch.member), headspace)
            for portion, headspace in sheet.contents
        ],
        sheet.water,
        sheet.phases,
        [_line(one) for one in sheet.record],
        sheet.planned_out,
    )


def _line(line: RecordLine) -> tuple[object, ...]:
    back = line.taken_back and event_facts(line.taken_back)
    return event_facts(line.event), [event_facts(one) for one in line.was], back


def event_facts(event: RunEvent) -> tuple[object, ...]:
    """All of a line, and who is named in it."""
    return columns_of(event), str(event.recorded_by), str(event.taken_by)
