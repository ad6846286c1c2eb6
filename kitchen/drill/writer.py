"""A process that writes without a pause until it is ended: ``python -m kitchen.drill.writer KITCHEN``.

Each transaction is a line in the audit record and the news for ``PEOPLE`` people, so that half a transaction shows.
"""

from __future__ import annotations

import sys
from datetime import timedelta
from itertools import count, islice

import django

PEOPLE = 5
ACTION = "tell"


def main(kitchen_id: int) -> None:
    """Tell a few people of something, again and again. It is not due, so that nothing else changes it."""
    django.setup()
    from django.db import transaction  # noqa: PLC0415  (after the set-up)
    from django.utils import timezone  # noqa: PLC0415  (likewise)

    from kitchen.members.models import Kitchen, User  # noqa: PLC0415  (likewise)
    from kitchen.reminders.actions import tell  # noqa: PLC0415  (likewise)

    kitchen = Kitchen.objects.get(pk=kitchen_id)
    people = list(islice(User.objects.filter(memberships__kitchen=kitchen).order_by("pk"), PEOPLE))
    for number in count():
        with transaction.atomic():
            tell(
                kitchen=kitchen,
                to=people,
                title=f"News {number}",
                lines=(),
                path="/",
                at=timezone.now() + timedelta(days=1),
            )


if __name__ == "__main__":
    main(int(sys.argv[1]))
