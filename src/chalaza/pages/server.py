"""The server of the pages: where it listens, what it takes in at most, and how it ends.

Threads, not processes: pages share what is kept in memory, and the database lets many read while one writes.
"""

import ctypes
import errno
import signal
import socket
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any

import waitress

from chalaza.errors import NotebookError
from chalaza.pages import addresses
from chalaza.words.language import mark

#: The port that is taken where none is asked for, and how many after it are tried.
PORT, TRIED = 8765, 20
#: An uploaded file may have 256 MB; the form around it a little more. [bytes]
MOST_BODY_B = 257 * 2**20
#: Limits and times of the server. A header of 32 KiB holds any cookie of ours; an idle connection is ended. [bytes, s]
LIMITS: dict[str, Any] = {
    "threads": 6, "max_request_body_size": MOST_BODY_B, "max_request_header_size": 32_768, "inbuf_overflow": 2**20,
    "outbuf_overflow": 2**20, "connection_limit": 100, "channel_timeout": 60, "cleanup_interval": 15, "backlog": 64,
    "ident": None, "expose_tracebacks": False, "trusted_proxy": None, "clear_untrusted_proxy_headers": True,
}  # fmt: skip
_POOLS = -8  # M_ARENA_MAX of mallopt(3)
_TAKEN = mark("Port {port} is taken by another program: end that one, or choose another port, such as --port {other}.")


def listen(port: int | None, *, home: bool) -> list[socket.socket]:
    """Sockets that listen at this computer, or with `home` on its network too. No port asked for: the next that is free.

    Raises `NotebookError` where the port cannot be had.
    """
    if port is not None:
        return _listening(port, home)
    for one in range(PORT, PORT + TRIED):
        try:
            return _listening(one, home)
        except NotebookError:
            continue
    raise NotebookError(
        mark("The ports {first} to {last} are all taken: choose a free one, such as --port {other}."),
        first=PORT, last=PORT + TRIED - 1, other=PORT + 1000,
    )  # fmt: skip


def _listening(port: int, home: bool) -> list[socket.socket]:
    try:
        first = _socket(socket.AF_INET, "0.0.0.0" if home else "127.0.0.1", port)
    except OSError as fault:
        if fault.errno == errno.EADDRINUSE:
            raise NotebookError(_TAKEN, port=port, other=_other(port)) from fault
        text = mark("Port {port} cannot be used here ({why}): choose another port, such as --port {other}.")
        raise NotebookError(text, port=port, why=fault.strerror or fault, other=_other(port)) from fault
    found = [first]
    with suppress(OSError):  # a computer without IPv6 answers by IPv4 alone
        found.append(_socket(socket.AF_INET6, "::1", first.getsockname()[1]))
    return found


def _other(port: int) -> int:
    return port + 1 if 1024 <= port < 65_000 else PORT


def _socket(family: int, host: str, port: int) -> socket.socket:
    made = socket.socket(family, socket.SOCK_STREAM)
    try:
        # Elsewhere a port just let go may be taken again at once; there it would let another program share it.
        made.setsockopt(socket.SOL_SOCKET, getattr(socket, "SO_EXCLUSIVEADDRUSE", socket.SO_REUSEADDR), 1)
        if family == socket.AF_INET6:
            made.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        made.bind((host, port))
        made.listen(LIMITS["backlog"])
    except BaseException:
        made.close()
        raise
    return made


def address(sockets: Sequence[socket.socket]) -> str:
    """Where a browser at this computer finds us."""
    return f"http://127.0.0.1:{sockets[0].getsockname()[1]}/"


def home_addresses(sockets: Sequence[socket.socket]) -> list[str]:
    """Where a phone finds us on the home network, while we listen there."""
    host, port = sockets[0].getsockname()[:2]
    return [f"http://{one}:{port}/" for one in addresses.own()] if host == "0.0.0.0" else []


def run(application: Callable[..., Any], sockets: Sequence[socket.socket]) -> None:
    """Answer until somebody ends it: Ctrl-C, or the signal to end. Requests under way are answered first."""
    server = waitress.create_server(application, sockets=list(sockets), **LIMITS)
    try:
        server.run()
    finally:
        server.close()


def keep_small() -> None:
    """Let all threads share one pool of memory: with one each, what six of them let go lies idle (20 MB were measured).

    To be called before there are threads. Only the C library of most Linux systems knows of it; elsewhere nothing happens.
    """
    if sys.platform == "linux":
        with suppress(AttributeError, OSError):
            ctypes.CDLL(None).mallopt(_POOLS, 1)


def heed_signals() -> None:
    """From now on the signals to end and to hang up end us in good order, like Ctrl-C."""
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), _end)


def _end(*_: object) -> None:
    sys.exit(0)
