"""Settings. Every one comes from the environment; the defaults make a laptop work.

`NAME_FILE` is read where `NAME` is not set (secrets mounted as files).
"""

import secrets
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from environs import FileAwareEnv, validate

env = FileAwareEnv()
BASE_DIR = Path(__file__).resolve().parent.parent

# --- what a deployment sets -----------------------------------------------------------------

DEMO = env.bool("DEMO", False)
# The invented club has a place of its own: a practice that begins after it must not find its people there.
DATA_DIR = Path(env.str("DATA_DIR", str(BASE_DIR / "var" / "demo" if DEMO else BASE_DIR / "var")))
PUBLIC_URL = env.str("PUBLIC_URL", "http://localhost:8000").rstrip("/")
HOSTS = env.list("HOSTS", ["localhost", "127.0.0.1", "[::1]"])
# How many proxies stand before this server; each adds one address to X-Forwarded-For. None by default.
TRUSTED_PROXIES = env.int("TRUSTED_PROXIES", 0)
DATABASE_URL = env.str("DATABASE_URL", "").strip()
REDIS_URL = env.str("REDIS_URL", "").strip()
DEBUG = env.bool("DEBUG", False)
# Every coach needs a passkey or one-time codes; without it, those who set one up.
SECOND_FACTOR_REQUIRED = env.bool("SECOND_FACTOR_REQUIRED", False)
LOG_FORMAT = env.str("LOG_FORMAT", "line", validate=validate.OneOf(["line", "json"]))
KEEP_MAIL_DAYS = env.int("KEEP_MAIL_DAYS", 90)  # who was sent what and whether it arrived; never its text
# How long the rest is kept; 0 keeps it. See `coaching.tidying`.
KEEP_READINGS_DAYS = env.int("KEEP_READINGS_DAYS", 1095)  # which coach read which health note
KEEP_LEFT_HEALTH_DAYS = env.int("KEEP_LEFT_HEALTH_DAYS", 365)  # health notes and answers of who has left
KEEP_LEFT_WORDS_DAYS = env.int(
    "KEEP_LEFT_WORDS_DAYS", 365
)  # their messages, and what coaches noted about them

# Mail: without EMAIL_HOST it is printed to the console and goes nowhere.
EMAIL_HOST = env.str("EMAIL_HOST", "").strip()
EMAIL_PORT = env.int("EMAIL_PORT", 587)
EMAIL_HOST_USER = env.str("EMAIL_HOST_USER", "").strip()
EMAIL_HOST_PASSWORD = env.str("EMAIL_HOST_PASSWORD", "").strip()
EMAIL_USE_TLS = env.bool("EMAIL_USE_TLS", EMAIL_PORT == 587)
EMAIL_USE_SSL = env.bool("EMAIL_USE_SSL", EMAIL_PORT == 465)
DEFAULT_FROM_EMAIL = SERVER_EMAIL = env.str("MAIL_FROM", "practice@localhost").strip()
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if EMAIL_HOST else 'console'}.EmailBackend"
EMAIL_TIMEOUT = 20


def _secret_key() -> str:
    """SECRET_KEY from the environment; on a laptop one that is made once and kept beside the database."""
    given = env.str("SECRET_KEY", "").strip()
    if given:
        return given
    if DATABASE_URL:
        raise ImproperlyConfigured(
            "Set SECRET_KEY (or SECRET_KEY_FILE): with DATABASE_URL it has no default."
        )
    DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)  # it will hold health notes: for nobody else here
    path = DATA_DIR / "secret_key"
    if not path.exists():
        made = path.with_suffix(f".{secrets.token_hex(4)}")
        made.touch(mode=0o600)
        made.write_text(secrets.token_urlsafe(50))
        made.replace(path)
    return path.read_text().strip()


SECRET_KEY = _secret_key()

# --- the rest follows -----------------------------------------------------------------------

_PUBLIC = urlsplit(PUBLIC_URL)
PUBLIC_ORIGIN = f"{_PUBLIC.scheme}://{_PUBLIC.netloc}"
# On a sub-path, like https://club.example.org/running, the path is part of every address.
FORCE_SCRIPT_NAME = _PUBLIC.path or None
# localhost: the health check inside a container
ALLOWED_HOSTS = [*HOSTS, "localhost", *([_PUBLIC.hostname] if _PUBLIC.hostname else [])]
CSRF_TRUSTED_ORIGINS = [PUBLIC_ORIGIN]
_HTTPS = PUBLIC_URL.startswith("https://")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if _HTTPS else None
SECURE_SSL_REDIRECT = _HTTPS
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365 if _HTTPS else 0
# Sub-domains and browsers' own lists are not this program's to decide: the domain may serve other things.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SESSION_ENGINE = "coaching.sessions"
SESSION_COOKIE_PATH = CSRF_COOKIE_PATH = f"{_PUBLIC.path}/"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 90
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

INSTALLED_APPS = [
    "athletes",
    "plans",
    "coaching",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "csp",
    "django_htmx",
    "template_partials",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
    "django_otp_webauthn",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_otp.middleware.OTPMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "coaching.middleware.manners",
]

ROOT_URLCONF = "coaching.urls"
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
                "coaching.context.house",
            ],
            "builtins": ["coaching.templatetags.plain"],
        },
    }
]

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}

AUTH_USER_MODEL = "athletes.User"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
AUTHENTICATION_BACKENDS = [
    "django.contrib.auth.backends.ModelBackend",
    "sesame.backends.ModelBackend",
    "django_otp_webauthn.backends.WebAuthnBackend",
]
# One-time links: spent by signing in, by a change of password or of address, and by age.
SESAME_TOKENS = ["sesame.tokens_v2"]
SESAME_ONE_TIME = True
SESAME_INVALIDATE_ON_EMAIL_CHANGE = True
SESAME_SIGNATURE_SIZE = 16
SESAME_MAX_AGE = timedelta(days=1)
OTP_TOTP_ISSUER = "Running practice"
# Passkeys belong to the host name; a browser makes them over https, or on localhost.
OTP_WEBAUTHN_RP_ID = _PUBLIC.hostname or "localhost"
OTP_WEBAUTHN_RP_NAME = "Running practice"
OTP_WEBAUTHN_ALLOWED_ORIGINS = [PUBLIC_ORIGIN if _HTTPS else "http://localhost"]
OTP_WEBAUTHN_HELPER_CLASS = "coaching.doors.passkeys.Helper"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]

if DATABASE_URL:
    DATABASES = {
        "default": dict(dj_database_url.parse(DATABASE_URL, conn_max_age=60, conn_health_checks=True))
    }
else:
    DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": DATA_DIR / "practice.sqlite3",
            # IMMEDIATE is what removes "database is locked"; FULL keeps an acknowledged log through a power cut.
            "OPTIONS": {
                "timeout": 20,
                "transaction_mode": "IMMEDIATE",
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
            },
            # A file: a worker thread and an in-memory database give "database table is locked".
            "TEST": {"NAME": str(DATA_DIR / "test.sqlite3")},
        }
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

FILE_UPLOAD_HANDLERS = [
    "coaching.uploads.Limit",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = Path(env.str("STATIC_DIR", str(DATA_DIR / "static")))
MADE_DIR = DATA_DIR / "made"  # PDFs and other files that can be made again
BACKUP_DIR = Path(env.str("BACKUP_DIR", str(DATA_DIR / "backups")))
BACKUP_KEY = env.str("BACKUP_KEY", "").strip()
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": MADE_DIR}},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

# The job row is the promise; the broker only makes it quick. Hence: no results, late acknowledgement.
CELERY_BROKER_URL = REDIS_URL or "memory://localhost/"
CELERY_BROKER_TRANSPORT_OPTIONS = {} if REDIS_URL else {"polling_interval": 0.1}
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
# In memory, a worker that holds all it may hold sleeps a polling interval: at 1, ten jobs a second and no more.
CELERY_WORKER_PREFETCH_MULTIPLIER = 1 if REDIS_URL else 32
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_PUBLISH_RETRY = False
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BEAT_SCHEDULE = {
    "sweep": {"task": "plans.sweep", "schedule": 20.0},
    "tidy": {"task": "coaching.tidy", "schedule": 3600.0},
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "coaching.logs.AsLine"}, "json": {"()": "coaching.logs.AsJson"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": LOG_FORMAT}},
    "root": {"handlers": ["console"], "level": "INFO"},
    "loggers": {
        "weasyprint": {"level": "ERROR"},
        "fontTools": {"level": "ERROR"},
        "pikepdf": {"level": "WARNING"},
    },
}
