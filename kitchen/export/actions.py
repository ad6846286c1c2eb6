"""Taking a kitchen out, which is noted: the file holds what everybody wrote."""

from __future__ import annotations

from datetime import datetime
from tempfile import TemporaryFile
from typing import IO

from django.db import transaction

from kitchen.audit.actions import record
from kitchen.export.writing import write_kitchen
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may


def export_kitchen(*, kitchen: Kitchen, actor: User, now: datetime) -> IO[bytes]:
    """Everything the kitchen has, as a zip on disk that is gone once it is closed; one line says who took it.

    It is written whole before anybody fetches it, so that a slow line keeps no transaction open.
    """
    check_may(actor, kitchen, Deed.EXPORT_KITCHEN)
    file = TemporaryFile()  # noqa: SIM115  # Whoever sends it closes it.
    try:
        counts = write_kitchen(kitchen, file, now)
        with transaction.atomic():
            after = {"files": len(counts), "rows": sum(counts.values())}
            record(actor=actor, kitchen=kitchen, action="export_kitchen", subject=kitchen, after=after)
    except BaseException:
        file.close()
        raise
    file.seek(0)
    return file
