"""How the web server logs: as the rest of the program does. It reads this file by its ``--config``."""

from __future__ import annotations

import os

from kitchen.configuration.environment import Environment
from kitchen.configuration.logs import logging_settings

_lines = logging_settings(as_json=Environment(os.environ).flag("LOG_JSON"))
# It comes with handlers of its own, to which these names stand.
logconfig_dict = {
    **_lines,
    "loggers": {
        "gunicorn.error": {"level": "WARNING", "handlers": [], "propagate": True},
        "gunicorn.access": {"level": "WARNING", "handlers": [], "propagate": True},
    },
}
