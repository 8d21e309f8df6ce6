"""The application as a server sees it: static files in front, pages behind."""

from collections.abc import Callable, Iterable
from typing import Any

from django.core.handlers.wsgi import WSGIHandler
from whitenoise import WhiteNoise

from chalaza.pages import gate, static_files

Wsgi = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


def application() -> Wsgi:
    """Pages with their static files. `open_records` must have been called."""
    served = WhiteNoise(WSGIHandler(), max_age=31_536_000, immutable_file_test=lambda path, url: True,
                        add_headers_function=_headers)  # fmt: skip
    for prefix, folder in static_files.FOLDERS.items():
        served.add_files(str(folder), prefix=f"static/{static_files.digest()}/{prefix}")
    return served  # type: ignore[no-any-return]  # whitenoise carries no types


def _headers(headers: Any, path: str, url: str) -> None:
    headers["X-Content-Type-Options"] = "nosniff"
    headers["Cross-Origin-Resource-Policy"] = "same-origin"
    headers["Content-Security-Policy"] = gate.POLICY
