"""Django's settings.

What may differ from place to place comes from the environment; DEVELOPERS.md lists the variables.

Without any variable this is the embedded kitchen: a SQLite file, a broker of files, mail into a folder, plain
HTTP on this machine. ``KITCHEN_HTTPS=1`` says that people reach it through HTTPS, and then nothing may be
left open.
"""

from __future__ import annotations

import os
from pathlib import Path

from kombu import Queue

from kitchen.configuration.broker import broker_options, broker_url, caches
from kitchen.configuration.data_folder import SECRET_KEY_FILE, check_secret_key, read_secret_key
from kitchen.configuration.database import database
from kitchen.configuration.environment import Environment
from kitchen.configuration.exposure import check_exposure
from kitchen.configuration.logs import configure_logging, logging_settings
from kitchen.configuration.mail import mail

_environment = Environment(os.environ)
_https = _environment.flag("HTTPS")
_year_seconds = 365 * 24 * 3600

BASE_DIR = Path(__file__).resolve().parent.parent
KITCHEN_DATA = _environment.data_folder(BASE_DIR)

DEBUG = _environment.flag("DEBUG")
check_exposure(_environment)
ALLOWED_HOSTS = _environment.hosts()
KITCHEN_URL = _environment.address(https=_https)
"""The kitchen's own address, for links in e-mail: scheme and host, without a slash at the end."""
KITCHEN_PROXIES = _environment.proxies()
KITCHEN_METRICS_TOKEN = _environment.text("METRICS_TOKEN")

_given_key = _environment.text("SECRET_KEY")
SECRET_KEY = (
    check_secret_key(_given_key, source="KITCHEN_SECRET_KEY")
    if _given_key
    else read_secret_key(Path(_environment.text("SECRET_KEY_FILE") or KITCHEN_DATA / SECRET_KEY_FILE))
)

INSTALLED_APPS = [
    "kitchen.apps.KitchenConfig",
    "kitchen.audit.apps.AuditConfig",
    "kitchen.members.apps.MembersConfig",
    "kitchen.entrance.apps.EntranceConfig",
    "kitchen.helping.apps.HelpingConfig",
    "kitchen.equipment.apps.EquipmentConfig",
    "kitchen.batches.apps.BatchesConfig",
    "kitchen.learning.apps.LearningConfig",
    "kitchen.planning.apps.PlanningConfig",
    "kitchen.rota.apps.RotaConfig",
    "kitchen.reminders.apps.RemindersConfig",
    "kitchen.seals.apps.SealsConfig",
    "kitchen.floor.apps.FloorConfig",
    "kitchen.booking.apps.BookingConfig",
    "kitchen.calendars.apps.CalendarsConfig",
    "kitchen.hooks.apps.HooksConfig",
    "kitchen.labels.apps.LabelsConfig",
    "kitchen.records.apps.RecordsConfig",
    "kitchen.reprocess.apps.ReprocessConfig",
    "kitchen.season.apps.SeasonConfig",
    "kitchen.export.apps.ExportConfig",
    "kitchen.api.apps.ApiConfig",
    "kitchen.demo.apps.DemoConfig",
    "kitchen.bench.apps.BenchConfig",
    "kitchen.drill.apps.DrillConfig",
    "kitchen.backup.apps.BackupConfig",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.messages",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "django.forms",
    "csp",
    "django_filters",
    "django_htmx",
    "drf_spectacular",
    "rest_framework",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "kitchen.http.packing.PackingMiddleware",
    "kitchen.http.headers.PrivacyHeadersMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "kitchen.language.middleware.ReaderMiddleware",
    "kitchen.http.size.SizeMiddleware",
    "kitchen.http.attempts.AttemptsMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "kitchen.http.refusals.RefusalMiddleware",
]

ROOT_URLCONF = "kitchen.urls"
WSGI_APPLICATION = "kitchen.wsgi.application"
APPEND_SLASH = True

TEMPLATES = [
    {
        "BACKEND": "kitchen.http.templates.Templates",
        "NAME": "django",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "django.template.context_processors.i18n",
            ],
            "builtins": ["django.templatetags.i18n", "kitchen.language.tags"],
        },
    }
]
# Forms' own templates, so that what a choice is called can be said in the reader's language.
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

DATABASES = {"default": database(_environment.text("DATABASE_URL"), KITCHEN_DATA)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES = caches(_environment.text("BROKER_URL"))

# --- People -------------------------------------------------------------------------------------------------

AUTH_USER_MODEL = "members.User"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/sign-in/"

# --- Time and language --------------------------------------------------------------------------------------

USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "kitchen" / "locale"]
FORMAT_MODULE_PATH = ["kitchen.language.formats"]
LANGUAGE_COOKIE_NAME = "kitchen_language"
LANGUAGE_COOKIE_AGE = _year_seconds
LANGUAGE_COOKIE_HTTPONLY = True
LANGUAGE_COOKIE_SAMESITE = "Lax"
LANGUAGE_COOKIE_SECURE = _https
USE_I18N = True

# --- Pages --------------------------------------------------------------------------------------------------

STATIC_URL = "static/"
STATIC_ROOT = KITCHEN_DATA / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

# No inline script or style anywhere, so no nonces either.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "manifest-src": ["'self'"],
        "worker-src": ["'self'"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
    }
}
# Calendars and tables are all that is uploaded.
FILE_UPLOAD_HANDLERS = ["kitchen.http.uploads.SmallFileHandler"]

SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

SECURE_SSL_REDIRECT = _https
# Probes ask for the health pages on the machine itself, past the proxy.
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$", r"^metrics$"]
SECURE_HSTS_SECONDS = _year_seconds if _https else 0
# The names beside and below the kitchen's own belong to somebody else, so it does not speak for them.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SESSION_COOKIE_SECURE = _https
SESSION_COOKIE_NAME = "__Host-session" if _https else "kitchen_session"
CSRF_COOKIE_SECURE = _https
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_NAME = "__Host-csrf" if _https else "kitchen_csrf"

# --- Programs -----------------------------------------------------------------------------------------------

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "kitchen.api.base.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["kitchen.api.base.parsing.CarefulJSONParser"],
    "DEFAULT_THROTTLE_CLASSES": ["kitchen.api.base.throttling.PerMinute"],
    "DEFAULT_PAGINATION_CLASS": "kitchen.api.base.paging.Pages",
    "DEFAULT_FILTER_BACKENDS": ["kitchen.api.base.filtering.ByFilters"],
    "DEFAULT_SCHEMA_CLASS": "kitchen.api.base.schema.KitchenSchema",
    "DEFAULT_METADATA_CLASS": None,
    "URL_FORMAT_OVERRIDE": None,
    "EXCEPTION_HANDLER": "kitchen.api.base.problems.as_problem",
    "DATETIME_INPUT_FORMATS": ["iso-8601"],
    "COERCE_DECIMAL_TO_STRING": True,
}
# For each token or person, and for each address of somebody unknown.
API_PER_MINUTE = 600
API_PER_MINUTE_UNKNOWN = 120
SPECTACULAR_SETTINGS = {
    "TITLE": "Community kitchen planner",
    "VERSION": "1",
    "SCHEMA_PATH_PREFIX": r"/api/v1/(kitchens/\{kitchen\}/)?",
    "POSTPROCESSING_HOOKS": [
        "kitchen.api.base.schema.without_limits_of_the_database",
        "kitchen.api.base.schema.with_refusals",
    ],
    "COMPONENT_SPLIT_REQUEST": True,
    "COMPONENT_NO_READ_ONLY_REQUIRED": False,
}

# --- Work behind the pages ----------------------------------------------------------------------------------

SWEEP_SECONDS = 30

# A plan may take minutes, and no reminder waits for one. A worker that is not told its queues reads both.
CELERY_TASK_DEFAULT_QUEUE = "celery"
CELERY_PLANNING_QUEUE = "solver"
CELERY_TASK_QUEUES = [Queue(CELERY_TASK_DEFAULT_QUEUE), Queue(CELERY_PLANNING_QUEUE)]
CELERY_TASK_ROUTES = {
    "kitchen.planning.tasks.run_plan_job": {"queue": CELERY_PLANNING_QUEUE},
    "kitchen.planning.tasks.run_what_if_job": {"queue": CELERY_PLANNING_QUEUE},
}
CELERY_BROKER_URL = broker_url(_environment.text("BROKER_URL"))
CELERY_BROKER_TRANSPORT_OPTIONS = broker_options(_environment.text("BROKER_URL"), KITCHEN_DATA)
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_POOL_ACQUIRE_TIMEOUT = 2
# A hint that cannot be sent is given up at once: the sweep finds the work in the database.
CELERY_TASK_PUBLISH_RETRY = False
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TIMEZONE = "UTC"
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_BEAT_SCHEDULE_FILENAME = str(KITCHEN_DATA / "beat")
CELERY_BEAT_SCHEDULE = {
    "sweep_due": {
        "task": "kitchen.reminders.tasks.sweep_due",
        "schedule": SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
    "send_codes": {
        "task": "kitchen.entrance.tasks.send_codes",
        "schedule": SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
    "tell_programs": {
        "task": "kitchen.hooks.tasks.tell_programs",
        "schedule": SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
    "tend_plan_jobs": {
        "task": "kitchen.planning.tasks.tend_jobs",
        "schedule": SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
    "read_due_calendars": {
        "task": "kitchen.helping.tasks.read_due",
        "schedule": 10 * SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
    "lapse_holds": {
        "task": "kitchen.booking.tasks.lapse_holds",
        "schedule": 2 * SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
    "expire_offers": {
        "task": "kitchen.seals.tasks.expire_offers",
        "schedule": 10 * SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
    "remind_of_gauges": {
        "task": "kitchen.reminders.tasks.remind_of_gauges",
        "schedule": 120 * SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
    "remind_of_shelf": {
        "task": "kitchen.labels.tasks.remind_of_shelf",
        "schedule": 720 * SWEEP_SECONDS,
        "options": {"expires": SWEEP_SECONDS},
    },
}

DEFAULT_FROM_EMAIL = SERVER_EMAIL = _environment.text("MAIL_FROM") or "kitchen@localhost"
globals().update(mail(_environment.text("SMTP_URL"), KITCHEN_DATA))

LOGGING = logging_settings(as_json=_environment.flag("LOG_JSON"))
configure_logging()
