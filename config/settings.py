"""Settings, from environment variables only. DJANGO_ENV is production, demo or test."""

from pathlib import Path
from typing import Any

from celery.schedules import crontab
from csp.constants import NONE, SELF
from django.urls import reverse
from redis.backoff import NoBackoff
from redis.retry import Retry

from config import environment, logs
from config.environment import env

BASE_DIR = Path(__file__).resolve().parent.parent
MODE = environment.mode()
PRODUCTION = MODE == "production"

DEBUG = False
SECRET_KEY = environment.secret_key()
SECRET_KEY_FALLBACKS = env.list("SECRET_KEY_FALLBACKS", default=[])
ALLOWED_HOSTS = environment.allowed_hosts()

INSTALLED_APPS = [
    "turnouts",
    "repairs",
    "planning",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.postgres",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "pgtrigger",
    "pghistory",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "django_htmx",
    "csp",
    "axes",
    "django_structlog",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "config.uploads.RefuseLargeRequests",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",  # a page is open only if it says so
    "django_structlog.middlewares.RequestMiddleware",
    "pghistory.middleware.HistoryMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "turnouts.refusals.SayRefusals",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
# A defect's page says what becomes of it, not only what was found.
ABSOLUTE_URL_OVERRIDES = {"turnouts.defect": lambda row: reverse("defect", args=[row.reference])}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "config" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "turnouts.menu.menu",
            ]
        },
    }
]

# --- database ---------------------------------------------------------------------------------
DATABASES: dict[str, dict[str, Any]] = {"default": environment.database()}
if MODE != "test":  # a pool would keep the test database open when it is to be dropped
    DATABASES["default"].setdefault("OPTIONS", {})["pool"] = {
        "min_size": env.int("DATABASE_POOL_MIN", default=1),
        "max_size": env.int("DATABASE_POOL_MAX", default=8),
        "timeout": env.int("DATABASE_POOL_TIMEOUT_S", default=10),
    }

# --- Redis: queue, results, cache -------------------------------------------------------------
REDIS_URL = environment.redis_url()
REDIS_CACHE_URL = env.str("REDIS_CACHE_URL", default=environment.next_redis_database(REDIS_URL))
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": REDIS_CACHE_URL,
        "KEY_PREFIX": "frogs",
        # A page goes on without the cache at once; it does not wait for Redis to come back.
        "OPTIONS": {"socket_timeout": 2, "retry": Retry(NoBackoff(), 1)},
    }
}

CELERY_BROKER_URL = REDIS_URL
CELERY_RESULT_BACKEND = REDIS_URL
CELERY_TASK_DEFAULT_QUEUE = "frogs"
CELERY_TASK_SERIALIZER = "json"
CELERY_RESULT_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_ACKS_LATE = True  # a task whose worker died is run again by another one
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1  # tasks are long: none waits behind another's
CELERY_TASK_TRACK_STARTED = True
CELERY_TASK_TIME_LIMIT = env.int("TASK_TIME_LIMIT_S", default=3600)
CELERY_TASK_SOFT_TIME_LIMIT = max(CELERY_TASK_TIME_LIMIT - 60, 1)
CELERY_RESULT_EXPIRES = 24 * 3600
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": CELERY_TASK_TIME_LIMIT + 600,  # never handed out twice while it runs
    "socket_connect_timeout": 2,
}
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BEAT_SCHEDULE: dict[str, dict[str, Any]] = {  # one entry a repeated task, named by subject
    "judge open defects again": {
        "task": "repairs.nightly",
        "schedule": crontab(hour=3, minute=15),  # before the day shift reads its list
    },
    "look ahead over the railway": {
        "task": "turnouts.nightly",
        "schedule": crontab(hour=2, minute=30),
    },
    "take away old exports": {
        "task": "turnouts.take_away_old_exports",
        "schedule": crontab(hour=3, minute=45),
    },
    "send notices to the crews": {
        "task": "planning.send_notices",
        "schedule": crontab(minute="*/5"),
    },
    "watch the jobs under way": {
        "task": "repairs.watch_jobs",
        "schedule": crontab(minute="*/2"),  # the clock runs on where there is no signal
    },
    "send lost runs again": {"task": "turnouts.send_again", "schedule": crontab(minute="*/5")},
}

# --- mail and the site's own address ----------------------------------------------------------
vars().update(environment.mail())
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = SERVER_EMAIL = env.str("MAIL_FROM", default="") or f"frogs@{ALLOWED_HOSTS[0]}"
# Where people open the site, for links in mails and calendars; without it they carry none.
SITE_URL = env.str("SITE_URL", default="").rstrip("/")

# --- people and login -------------------------------------------------------------------------
AUTH_USER_MODEL = "turnouts.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "login"

TRUSTED_PROXIES = env.int("TRUSTED_PROXIES", default=0)  # how many stand between people and us
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "registration/locked.html"
AXES_VERBOSE = False
AXES_ALLOWED_CORS_ORIGINS = None
if TRUSTED_PROXIES:
    AXES_IPWARE_PROXY_COUNT = TRUSTED_PROXIES
    AXES_IPWARE_META_PRECEDENCE_ORDER = ["HTTP_X_FORWARDED_FOR", "REMOTE_ADDR"]
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

# --- security ---------------------------------------------------------------------------------
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_AGE = env.int("SESSION_AGE_S", default=14 * 3600)  # one night shift with its travel
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = PRODUCTION
SECURE_REDIRECT_EXEMPT = [r"^health/"]  # asked by the container's own health check, without TLS
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if PRODUCTION else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = PRODUCTION
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

# --- uploads, static files --------------------------------------------------------------------
UPLOAD_MAX_BYTES = env.int("UPLOAD_MAX_BYTES", default=32 * 1024 * 1024)
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_PERMISSIONS = 0o640
MEDIA_ROOT = environment.required("MEDIA_ROOT")
MEDIA_URL = "/media/"  # never served as files: a page that checks the person hands them out

STATIC_URL = "/static/"
STATIC_ROOT = BASE_DIR / "static_collected" if PRODUCTION else None
STATICFILES_DIRS = [BASE_DIR / "config" / "static"]
WHITENOISE_USE_FINDERS = not PRODUCTION  # demo and tests need no collectstatic
_STATIC_STORAGE = (
    "whitenoise.storage.CompressedManifestStaticFilesStorage"
    if PRODUCTION
    else "django.contrib.staticfiles.storage.StaticFilesStorage"
)
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": _STATIC_STORAGE},
}

# --- API --------------------------------------------------------------------------------------
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": [
        "rest_framework.parsers.JSONParser",
        "rest_framework.parsers.MultiPartParser",
    ],
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.PageNumberPagination",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "PAGE_SIZE": 50,
    "EXCEPTION_HANDLER": "turnouts.api.errors.handle",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Frogs and points",
    "DESCRIPTION": "Turnout inventory, repair estimates and the week's plan.",
    "VERSION": "0.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_NAME_OVERRIDES": {
        "AnswerState": "repairs.models.OwnerRule.STATES",
        "ClosingState": "repairs.models.ClosingChange.STATES",
        "ComponentKind": "turnouts.api.words.COMPONENT_KINDS",
        "DefectKind": "turnouts.api.words.DEFECT_KINDS",
        "DefectState": "turnouts.api.words.DEFECT_STATES",
        "EditionState": "repairs.models.OwnerProcedure.STATES",
        "InspectionKind": "turnouts.models.Inspection.KINDS",
        "Route": "turnouts.api.words.ROUTES",
        "PlanOrigin": "planning.models.WeekPlan.ORIGINS",
        "PlanState": "planning.models.WeekPlan.STATES",
        "ProofResult": "repairs.models.Qualification.RESULTS",
        "RenewalWay": "repairs.models.RenewalChoice.WAYS",
        "RunState": "turnouts.models.LongRun.STATES",
        "TrafficNow": "repairs.models.Decision.TRAFFIC",
        "TrafficSaid": "repairs.models.Overrule.TRAFFIC",
    },
}

# --- language, time, logs ---------------------------------------------------------------------
LANGUAGE_CODE = "en"
TIME_ZONE = env.str("TIME_ZONE", default="UTC")
CURRENCY = environment.currency()
CELERY_TIMEZONE = TIME_ZONE
USE_TZ = True

DJANGO_STRUCTLOG_CELERY_ENABLED = True
LOGGING = logs.logging_config(
    level=env.str("LOG_LEVEL", default="INFO"), style=env.str("LOG_FORMAT", default="json")
)
logs.configure_structlog()
