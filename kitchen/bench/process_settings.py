"""Settings of processes apart: a database, a folder and mail of their own, and nothing of the kitchen's.

They cannot be read by accident: without the name of that database there are none.
"""

from __future__ import annotations

import os

from kitchen.settings import *  # noqa: F403
from kitchen.settings import CELERY_BEAT_SCHEDULE, CELERY_BROKER_URL, DATABASES

DATABASES["default"]["NAME"] = os.environ["KITCHEN_APART_DATABASE"]
if "KITCHEN_SMTP_URL" not in os.environ:
    EMAIL_BACKEND = "kitchen.bench.paper_mail.EmailBackend"
EMAIL_FILE_PATH = os.environ["KITCHEN_APART_MAIL"]
# Pages are served without having been prepared.
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
# A drill cannot wait for half a minute each time.
CELERY_BEAT_SCHEDULE["sweep_due"]["schedule"] = 1

if CELERY_BROKER_URL.startswith("redis"):
    # Redelivery is looked for every second instead of every 100 or so: with the defaults a drill of it would prove
    # nothing.
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 5,
        "unacked_restore_interval": 1,
        "unacked_restore_throttle": 1,
    }
    CELERY_IMPORTS = ["kitchen.drill.control_task"]
