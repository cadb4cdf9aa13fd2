"""All settings. What differs between machines comes from the environment (see .env.example)."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import dj_database_url
from csp.constants import NONE, SELF

from labcourse.environment import (
    keep_local_secret,
    read_bool,
    read_choice,
    read_database_url,
    read_hours,
    read_int,
    read_list,
    read_text,
    read_time_zone,
)

BASE_DIR = Path(__file__).resolve().parent.parent

# "local": one machine's own use on loopback, with a generated secret and mail on the console.
# "production": everything that has no safe default must be stated.
MODE = read_choice("LABCOURSE_MODE", ("local", "production"), "local")
IN_PRODUCTION = MODE == "production"
LOCAL_DIR = Path(read_text("LOCAL_DIR", str(BASE_DIR / ".local")))

DEBUG = read_bool("DEBUG", False) and not IN_PRODUCTION
SECRET_KEY = (
    read_text("SECRET_KEY") if IN_PRODUCTION else keep_local_secret(LOCAL_DIR / "secret_key")
)
SECRET_KEY_FALLBACKS = read_list("SECRET_KEY_FALLBACKS", [])
ALLOWED_HOSTS = read_list(
    "ALLOWED_HOSTS", None if IN_PRODUCTION else ["localhost", "127.0.0.1", "[::1]"]
)
CSRF_TRUSTED_ORIGINS = read_list("CSRF_TRUSTED_ORIGINS", [])

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    # Before staticfiles: the development server then serves files the way production does.
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "axes",
    "csp",
    "django_htmx",
    "workups",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # Pages are packed for slow tablets; it pads them at random, so that their length tells nothing.
    "django.middleware.gzip.GZipMiddleware",
    "csp.middleware.CSPMiddleware",
    "labcourse.middleware.SecurityHeadersMiddleware",
    "labcourse.middleware.LimitedBodyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "labcourse.middleware.SignedInPagesMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "labcourse.middleware.DemandedSecondStepMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "workups.web.errors.RefusedWriteMiddleware",
    # Last: it turns a locked-out sign-in into its own answer.
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "labcourse.urls"
WSGI_APPLICATION = "labcourse.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "workups.web.preferences.colour_scheme",
            ],
        },
    },
]
FORM_RENDERER = "labcourse.forms.LabcourseRenderer"

# Database. SQLite is the embedded default; DATABASE_URL selects another one.
DATABASE_URL = read_database_url(
    "DATABASE_URL", f"sqlite:///{LOCAL_DIR / 'labcourse.sqlite3'}", dj_database_url.parse
)
DATABASES: dict[str, Any] = {
    "default": dict(
        dj_database_url.parse(
            DATABASE_URL,
            conn_max_age=0 if DATABASE_URL.startswith("sqlite") else 60,
            conn_health_checks=True,
        )
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    LOCAL_DIR.mkdir(mode=0o700, exist_ok=True)
    DATABASES["default"]["OPTIONS"] = {
        # A transaction takes the write lock when it starts, so that it never fails half-way on
        # another writer; a second writer waits up to `timeout` seconds.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        # WAL lets readers go on beside the writer. FULL makes a commit reach the disk before
        # the page says that a reading is saved. With recursive triggers, INSERT OR REPLACE meets
        # the triggers that keep rows from being removed.
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; "
            "PRAGMA recursive_triggers=ON;"
        ),
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# People and sign-in
AUTH_USER_MODEL = "workups.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("sign_in", "display_name", "email")},
    },
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "labcourse.passwords.NearbyWordsValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "show-first-page"
LOGOUT_REDIRECT_URL = "sign-in"
# Links in invitations and password resets.
PASSWORD_RESET_TIMEOUT = int(read_hours("PASSWORD_LINK_HOURS", 72).total_seconds())

# Whether people who teach set up the second step before anything else.
SECOND_STEP_DEMANDED = read_bool("SECOND_STEP_DEMANDED", False)

# A whole class signs in from one address, so failures are counted per name and address together;
# on a device where the name has signed in before, by themselves (web/accounts/throttle.py).
AXES_FAILURE_LIMIT = read_int("SIGN_IN_FAILURE_LIMIT", 8, minimum=3)
AXES_COOLOFF_TIME = timedelta(minutes=read_int("SIGN_IN_LOCK_MINUTES", 15, minimum=1))
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
# The field of the form; without it the person model's would be taken, and nothing would lock.
AXES_USERNAME_FORM_FIELD = "username"
AXES_CLIENT_IP_CALLABLE = "workups.web.requests.client_address"
AXES_USERNAME_CALLABLE = "workups.web.accounts.throttle.name_to_throttle"
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_LOCKOUT_CALLABLE = "workups.web.accounts.views.refuse_locked_sign_in"
AXES_ENABLE_ADMIN = False
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False
AXES_ALLOWED_CORS_ORIGINS = ""

# Language, time and numbers. Numbers are formatted by the program itself, never by locale.
LANGUAGE_CODE = "en"
USE_I18N = False
USE_TZ = True
TIME_ZONE = read_time_zone("TIME_ZONE", "UTC")
DATE_FORMAT = "j F Y"
DATETIME_FORMAT = "D j M Y, H:i"
SHORT_DATETIME_FORMAT = "j M, H:i"

# Static files
STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
# Only production collects them; elsewhere they are served from where they lie.
STATIC_ROOT = read_text("STATIC_ROOT", str(LOCAL_DIR / "static")) if IN_PRODUCTION else None
WHITENOISE_USE_FINDERS = not IN_PRODUCTION
WHITENOISE_AUTOREFRESH = DEBUG
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "whitenoise.storage.CompressedManifestStaticFilesStorage"
            if IN_PRODUCTION
            else "django.contrib.staticfiles.storage.StaticFilesStorage"
        )
    },
}
# Uploads: rosters and exercise files are small texts.
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
MOST_BYTES_OF_A_REQUEST = 4 * 1024 * 1024

# Mail
EMAIL_HOST = read_text("EMAIL_HOST", None if IN_PRODUCTION else "localhost")
EMAIL_PORT = read_int("EMAIL_PORT", 587, minimum=1, maximum=65535)
EMAIL_HOST_USER = read_text("EMAIL_HOST_USER", "")
EMAIL_HOST_PASSWORD = read_text("EMAIL_HOST_PASSWORD", "")
EMAIL_USE_TLS = read_bool("EMAIL_USE_TLS", True)
EMAIL_TIMEOUT = 20
EMAIL_BACKEND = (
    "django.core.mail.backends.smtp.EmailBackend"
    if IN_PRODUCTION
    else "django.core.mail.backends.console.EmailBackend"
)
DEFAULT_FROM_EMAIL = read_text(
    "DEFAULT_FROM_EMAIL", None if IN_PRODUCTION else "Labcourse <labcourse@localhost>"
)
SERVER_EMAIL = DEFAULT_FROM_EMAIL

# Transport and headers
BEHIND_HTTPS_PROXY = read_bool("BEHIND_HTTPS_PROXY", False)
if BEHIND_HTTPS_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_SSL_REDIRECT = IN_PRODUCTION
SECURE_HSTS_SECONDS = read_int("HSTS_SECONDS", 31_536_000) if IN_PRODUCTION else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = IN_PRODUCTION
SECURE_HSTS_PRELOAD = IN_PRODUCTION
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# The prefix makes browsers refuse these cookies from any other host and without HTTPS.
COOKIE_PREFIX = "__Host-" if IN_PRODUCTION else ""
SESSION_ENGINE = "workups.models.sessions"
SESSION_COOKIE_NAME = f"{COOKIE_PREFIX}sessionid"
CSRF_COOKIE_NAME = f"{COOKIE_PREFIX}csrftoken"
KNOWN_DEVICE_COOKIE_NAME = f"{COOKIE_PREFIX}known"
SESSION_COOKIE_SECURE = IN_PRODUCTION
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 7 * 24 * 60 * 60
CSRF_COOKIE_SECURE = IN_PRODUCTION
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "workups.web.errors.refuse_stale_form"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "object-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {
            "format": "%(asctime)s %(levelname)s %(name)s %(message)s",
            "datefmt": "%Y-%m-%dT%H:%M:%S%z",
        }
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"workups": {"level": "INFO"}},
}
