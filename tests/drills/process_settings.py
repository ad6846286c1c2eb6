"""Settings of the processes of a drill: the test's own database, mail on paper, beat every second."""

from __future__ import annotations

import os

from tests.settings import *  # noqa: F403
from tests.settings import CELERY_BEAT_SCHEDULE, DATABASES

DATABASES["default"]["NAME"] = os.environ["KITCHEN_TEST_DATABASE_NAME"]
EMAIL_BACKEND = "tests.drills.paper_mail.EmailBackend"
CELERY_BEAT_SCHEDULE["sweep_due"]["schedule"] = 1

if "KITCHEN_TEST_QUEUE" in os.environ:
    _queue = os.environ["KITCHEN_TEST_QUEUE"]
    CELERY_BROKER_URL = "filesystem://"
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": f"{_queue}/messages",
        "data_folder_out": f"{_queue}/messages",
        "control_folder": f"{_queue}/control",
    }
if "KITCHEN_TEST_DRILL_REDIS" in os.environ:
    CELERY_BROKER_URL = os.environ["KITCHEN_TEST_DRILL_REDIS"]
    # Redelivery is looked for every second instead of every 100 or so: with the defaults this drill would
    # prove nothing.
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 5,
        "unacked_restore_interval": 1,
        "unacked_restore_throttle": 1,
    }
    CELERY_IMPORTS = ["tests.drills.control_task"]
