"""Settings of Django. What differs from place to place comes from the data folder and two variables."""

import hashlib

from chalaza.records import database, home

HOME = home.ready()
SECRET_KEY = home.secret()
DEBUG = False
#: Whether this is the notebook of the demonstration: every page says so.
INVENTED = (HOME / home.INVENTED).exists()
DATABASES = {"default": database.setting(HOME)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "records.Keeper"
INSTALLED_APPS = ["chalaza.records", "chalaza.pages", "django_htmx"]
MIDDLEWARE = [
    "chalaza.pages.gate.Gate",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "chalaza.pages.keeper.SignedIn",
    "chalaza.pages.gate.LetIn",
]
ROOT_URLCONF = "chalaza.pages.urls"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": ["chalaza.pages.templatetags.words"],
            "context_processors": [
                "django.template.context_processors.request",
                "chalaza.pages.keeper.context",
                "chalaza.pages.undo.context",
                "chalaza.pages.outbox.context",
            ],
        },
    }
]
USE_TZ, TIME_ZONE = True, "UTC"
USE_I18N = False  # sentences are made by `words`, in one way for pages, paper and command line
ALLOWED_HOSTS = ["*"]  # the gate decides, by host and port
#: Cookies know no ports: each notebook has names of its own.
_MARK = hashlib.sha256(SECRET_KEY.encode()).hexdigest()[:8]
CSRF_COOKIE_NAME = f"chalaza-{_MARK}-form"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "chalaza.pages.refused.stale_form"
DEVICE_COOKIE_NAME = f"chalaza-{_MARK}-device"
FORM_RENDERER = "django.forms.renderers.DjangoTemplates"
#: A form of 24 eggs has some hundred fields; a log comes as a file and is streamed to disk.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 2**20
FILE_UPLOAD_MAX_MEMORY_SIZE = 2**20
FILE_UPLOAD_TEMP_DIR = str(HOME)
SILENCED_SYSTEM_CHECKS: list[str] = []
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "loggers": {
        "django": {"handlers": ["console"], "level": "ERROR"},
        "chalaza": {"handlers": ["console"]},
        "waitress.queue": {"level": "ERROR"},
    },  # that requests wait a moment is no news
}
