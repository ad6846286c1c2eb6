"""``python -m tests.catalogs``: reads what there is to translate and writes the catalogs anew, compiled too."""

from __future__ import annotations

import os
import sys

import django

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    from tests.catalogs.catalogs import write

    sys.stdout.write("\n".join(write()) + "\n")
