"""What a server holds from its start to its end, and need not be looked through again."""

from __future__ import annotations

import gc

from django.urls import get_resolver

_NEW_OBJECTS = 20_000
"""A page makes tens of thousands of objects and lets go of nearly all of them by itself; looked through at every 700th,
as Python does unless told otherwise, those that are in use are looked through again and again.
"""


def set_aside_what_stays() -> None:
    """Take everything that is loaded now, and all pages with it, out of what the garbage collector looks through.

    The program, its tables and translations are some hundred thousand objects that live as long as the process. Looked
    through in the middle of a page they cost it a quarter of a second.
    """
    # Django would load the pages, and all that they are made with, when the first is asked for.
    _ = get_resolver().url_patterns
    gc.collect()
    gc.freeze()
    gc.set_threshold(_NEW_OBJECTS, *gc.get_threshold()[1:])
