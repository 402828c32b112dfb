"""The one settings file: safe as it stands, and moved only by the environment variables it reads here.

Every variable is named in DEVELOPERS.md; one that makes no sense stops the start (`workshop/env.py`).
"""

from datetime import timedelta
from pathlib import Path

from workshop import env

BASE_DIR = Path(__file__).resolve().parent.parent
WORKSHOP_DATA = env.data_folder(BASE_DIR)

# What the environment says about where and how the shop is served.
HTTPS = env.flag("WORKSHOP_HTTPS")
DEBUG = env.flag("WORKSHOP_DEBUG")
DEMO = env.flag("WORKSHOP_DEMO")
# Without Pango no PDF can be made; `up` finds out once and says so here, and pages tell why instead of failing.
PDF_AVAILABLE = env.flag("WORKSHOP_PDF", default=True)

SECRET_KEY = env.secret_key(WORKSHOP_DATA)
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", *env.words("WORKSHOP_HOSTS")]
# How many proxies of our own stand before the server: the client's address is read that far from the right.
TRUSTED_PROXIES = env.whole("WORKSHOP_PROXIES", default=0, least=0, most=5)


# Rooms, from the ground floor up (DEVELOPERS.md), then what is borrowed.

INSTALLED_APPS = [
    "workshop.common",
    "workshop.people",
    "workshop.materials",
    "workshop.papers",
    "workshop.rough",
    "workshop.stones",
    "workshop.gems",
    "workshop.planning",
    "workshop.commissions",
    "workshop.sales",
    "workshop.books",
    "workshop.exchange",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.messages",
    "django.contrib.sessions",
    # Static files come from whitenoise in `runserver` too, so that a developer sees the headers a cutter gets.
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "axes",
    "django_filters",
    "django_htmx",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    # High up, so that an answer made on the way, such as "with a slash, please", carries its header too.
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    # Above whitenoise: a style sheet carries the same headers as a page.
    "workshop.common.middleware.HeadersMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "workshop.common.middleware.RequestSizeMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "workshop.common.middleware.SessionAgeMiddleware",
    # Closed by default: an open page is marked one by one with `login_not_required`.
    "workshop.common.middleware.SignInFirstMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "workshop.common.zone.ShopZoneMiddleware",
    # Last, as its own manual asks: it turns a refused sign-in into the locked-out page.
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "workshop.urls"
WSGI_APPLICATION = "workshop.wsgi.application"

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
                "workshop.common.context.shop",
                "workshop.stones.context.running_clock",
            ],
        },
    },
]

# Long choice lists are written without a template for each option (`common/selects.py`).
FORM_RENDERER = "workshop.common.selects.FormRenderer"


# The database. ATOMIC_REQUESTS stays off for good: with immediate transactions every page that only reads
# would wait for the write lock. Writes go through `common.tx.write_tx`.

DATABASE_URL = env.text("DATABASE_URL")
if DATABASE_URL and DEMO:
    raise env.EnvironmentFault(
        "WORKSHOP_DEMO and DATABASE_URL exclude each other: the demo keeps to its own folder."
    )
SQLITE_PRAGMAS = {
    "journal_mode": "WAL",
    "synchronous": "FULL",
    "journal_size_limit": "27103364",
    "cache_size": "-20000",
}

if DATABASE_URL:
    DATABASES = {"default": env.postgresql(DATABASE_URL)}
else:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": WORKSHOP_DATA / "shop.sqlite3",
            "OPTIONS": {
                "timeout": 10,
                # A deferred transaction that has read cannot wait for the write lock: it fails at once.
                "transaction_mode": "IMMEDIATE",
                "init_command": " ".join(f"PRAGMA {name}={value};" for name, value in SQLITE_PRAGMAS.items()),
            },
        }
    }
DATABASES["default"] |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"


# Who may come in.

AUTH_USER_MODEL = "common.Hand"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "common:sign_in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "common:sign_in"

AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_LOCKOUT_TEMPLATE = "common/locked_out.html"
AXES_HTTP_RESPONSE_CODE = 429
AXES_CLIENT_IP_CALLABLE = "workshop.common.middleware.client_address"
AXES_VERBOSE = False

# Idle and absolute limits (OWASP ASVS 5.0.0, 7.3.1 and 7.3.2); SessionAgeMiddleware keeps both.
SESSION_COOKIE_AGE = int(timedelta(hours=12).total_seconds())
SESSION_LONGEST_AGE = timedelta(days=14)
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"

# Over plain http, which is how one's own machine is reached, a cookie marked Secure never comes back.
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_NAME = "__Host-session" if HTTPS else "session"
CSRF_COOKIE_NAME = "__Host-csrf" if HTTPS else "csrf"
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = int(timedelta(days=365).total_seconds()) if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
CSRF_TRUSTED_ORIGINS = env.words("WORKSHOP_ORIGINS")

SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# Named and shaped as in Django 6: on that upgrade our middleware goes and Django's own takes its place.
SECURE_CSP = {
    "default-src": ["'none'"],
    "script-src": ["'self'"],
    "style-src": ["'self'"],
    "img-src": ["'self'", "data:", "blob:"],
    "font-src": ["'self'"],
    "connect-src": ["'self'"],
    "form-action": ["'self'"],
    "frame-ancestors": ["'none'"],
    "base-uri": ["'none'"],
    "manifest-src": ["'self'"],
    "worker-src": ["'self'"],
}


# Words, numbers and times. Times are kept in UTC; ShopZoneMiddleware shows them in the shop's own zone.

LANGUAGE_CODE = "en"
# Pages are in English; a paper has a language of its own, for which the catalogues lie in `workshop/locale`.
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [BASE_DIR / "workshop" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"
USE_THOUSAND_SEPARATOR = True


# Files. Pictures and papers lie in the data folder and leave it only through a page that asks who is there.

STATIC_URL = "static/"
STATIC_ROOT = BASE_DIR / ".static"
MEDIA_ROOT = WORKSHOP_DATA / "media"
MEDIA_URL = ""
STORAGES = {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": MEDIA_ROOT, "base_url": None},
    },
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage",
    },
}
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
DATA_UPLOAD_MAX_NUMBER_FILES = 20
PICTURE_MAX_BYTES = 25 * 1024 * 1024
PICTURE_MAX_PIXELS = 60_000_000
# Above this a request is refused unread; below it the form says which file was too big and keeps what was typed.
REQUEST_MAX_BYTES = 128 * 1024 * 1024


# E-mail: printed where the server runs until a mail server is named. Every send has an end (`env.mail`).

_MAIL = env.mail()
EMAIL_BACKEND = _MAIL["EMAIL_BACKEND"]
EMAIL_TIMEOUT = _MAIL["EMAIL_TIMEOUT"]
DEFAULT_FROM_EMAIL = SERVER_EMAIL = _MAIL["DEFAULT_FROM_EMAIL"]
EMAIL_HOST = _MAIL.get("EMAIL_HOST", "")
EMAIL_PORT = _MAIL.get("EMAIL_PORT", 25)
EMAIL_HOST_USER = _MAIL.get("EMAIL_HOST_USER", "")
EMAIL_HOST_PASSWORD = _MAIL.get("EMAIL_HOST_PASSWORD", "")
EMAIL_USE_TLS = _MAIL.get("EMAIL_USE_TLS", False)
EMAIL_USE_SSL = _MAIL.get("EMAIL_USE_SSL", False)


# What is written to the log, on standard error: plain for a person, json for a collector.

LOG_STYLE = env.choice("WORKSHOP_LOG", ("plain", "json", "readable"), default="plain")
FORMATTERS = {
    "plain": "workshop.logs.PlainFormatter",
    "readable": "workshop.logs.ReadableFormatter",
    "json": "workshop.logs.JsonFormatter",
}
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": FORMATTERS[LOG_STYLE]}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "workshop": {"level": "INFO"},
        "axes": {"level": "WARNING"},
        "django": {"handlers": [], "level": "WARNING", "propagate": True},
        "django.security": {"level": "WARNING"},
        "django.server": {"handlers": ["stderr"], "level": "INFO", "propagate": False},
        # WeasyPrint and fontTools tell every rounding they do.
        "weasyprint": {"level": "ERROR"},
        "fontTools": {"level": "ERROR"},
        # What somebody hands in to be checked may be anything at all; the answer says so.
        "pypdf": {"level": "CRITICAL"},
    },
}
