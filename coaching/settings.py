"""Settings. Every one comes from the environment; the defaults make a laptop work.

`NAME_FILE` is read where `NAME` is not set (secrets mounted as files).
"""

import secrets
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from environs import FileAwareEnv

env = FileAwareEnv()
BASE_DIR = Path(__file__).resolve().parent.parent

# --- what a deployment sets -----------------------------------------------------------------

DATA_DIR = Path(env.str("DATA_DIR", str(BASE_DIR / "var")))
PUBLIC_URL = env.str("PUBLIC_URL", "http://localhost:8000").rstrip("/")
HOSTS = env.list("HOSTS", ["localhost", "127.0.0.1", "[::1]"])
DATABASE_URL = env.str("DATABASE_URL", "").strip()
REDIS_URL = env.str("REDIS_URL", "").strip()
DEBUG = env.bool("DEBUG", False)
DEMO = env.bool("DEMO", False)


def _secret_key() -> str:
    """SECRET_KEY from the environment; on a laptop one that is made once and kept beside the database."""
    given = env.str("SECRET_KEY", "").strip()
    if given:
        return given
    if DATABASE_URL:
        raise ImproperlyConfigured(
            "Set SECRET_KEY (or SECRET_KEY_FILE): with DATABASE_URL it has no default."
        )
    DATA_DIR.mkdir(parents=True, exist_ok=True)
    path = DATA_DIR / "secret_key"
    if not path.exists():
        made = path.with_suffix(f".{secrets.token_hex(4)}")
        made.touch(mode=0o600)
        made.write_text(secrets.token_urlsafe(50))
        made.replace(path)
    return path.read_text().strip()


SECRET_KEY = _secret_key()

# --- the rest follows -----------------------------------------------------------------------

ALLOWED_HOSTS = [*HOSTS, "localhost"]  # localhost: the health check inside a container
CSRF_TRUSTED_ORIGINS = [PUBLIC_URL]
_HTTPS = PUBLIC_URL.startswith("https://")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if _HTTPS else None
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
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
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

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = Path(env.str("STATIC_DIR", str(DATA_DIR / "static")))
MADE_DIR = DATA_DIR / "made"  # PDFs and other files that can be made again
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
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_PUBLISH_RETRY = False
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BEAT_SCHEDULE = {"sweep": {"task": "plans.sweep", "schedule": 20.0}}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "INFO"},
    "loggers": {"weasyprint": {"level": "ERROR"}, "fontTools": {"level": "ERROR"}},
}
