"""The application as a server sees it: static files in front, pages behind."""

from collections.abc import Callable, Iterable
from typing import Any, cast

from django.core.handlers.wsgi import WSGIHandler
from django.urls import get_resolver
from whitenoise import WhiteNoise

from chalaza.pages import addresses, gate, static_files

Wsgi = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


def application(*, home: bool = False) -> Wsgi:
    """Pages with their static files. `open_records` must have been called.

    `home`: the home network is served too, so the addresses this computer has at that moment are names of ours.
    """
    _ = get_resolver().url_patterns  # the pages are loaded now, not by whoever asks first
    served: Any = WhiteNoise(WSGIHandler(), max_age=31_536_000, immutable_file_test=lambda path, url: True,
                        add_headers_function=_headers)  # fmt: skip
    for prefix, folder in static_files.FOLDERS.items():
        served.add_files(str(folder), prefix=f"static/{static_files.digest()}/{prefix}")
    return _at_home(served) if home else cast(Wsgi, served)


def _at_home(served: Wsgi) -> Wsgi:
    def answer(environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        return served(environ | {gate.ADDRESSES: addresses.own()}, start)

    return answer


def _headers(headers: Any, path: str, url: str) -> None:
    headers["X-Content-Type-Options"] = "nosniff"
    headers["Cross-Origin-Resource-Policy"] = "same-origin"
    headers["Content-Security-Policy"] = gate.POLICY
