"""The settings of the tests: the program's own, in a folder that is thrown away, with a key that guards
nothing.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from pathlib import Path

_folder = Path(tempfile.mkdtemp(prefix="kitchen-tests-"))
atexit.register(shutil.rmtree, _folder, ignore_errors=True)

for _name in [
    name
    for name in os.environ
    if name.startswith("KITCHEN_") and not name.startswith(("KITCHEN_TEST_", "KITCHEN_REFERENCE_"))
]:
    # The legs of deploy/test choose the servers; nothing else of the developer's own set-up reaches a test.
    if _name not in {"KITCHEN_DATABASE_URL", "KITCHEN_BROKER_URL"}:
        del os.environ[_name]
os.environ["KITCHEN_DATA"] = str(_folder)
os.environ["KITCHEN_SECRET_KEY"] = "a key for tests that guards nothing at all, and so may be read"  # noqa: S105

from kitchen.configuration.data_folder import make_data_folder  # noqa: E402  (after the environment)

make_data_folder(_folder)

from kitchen.settings import *  # noqa: E402, F403  (the settings are read as they are imported)
from kitchen.settings import DATABASES, INSTALLED_APPS  # noqa: E402

INSTALLED_APPS = [*INSTALLED_APPS, "tests.emptying"]

if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # A file, since threads that race need one; an in-memory database is shared through one connection.
    DATABASES["default"]["TEST"] = {"NAME": _folder / "test.sqlite3"}

EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
EMAIL_FILE_PATH = str(_folder / "mail")
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
