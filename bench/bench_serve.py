"""The program as a keeper starts it: seconds to the first page, and the memory of its processes after every page.

It serves the invented batches from a folder of its own; every link of every page is followed once per kind of page.
"""

import json
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from urllib.error import HTTPError
from urllib.parse import urlsplit
from urllib.request import urlopen

import psutil

from row import Row

_LINK = re.compile(r'(?:href|hx-get)="(/[^"#]*)')
_NAME = re.compile(r"[0-9a-f]{32}|(?<=/)[^/]*[a-z]-[a-z][^/]*(?=/)|(?<==)[^&]*")
_SECONDS, _MB = "s", "MB"


@contextmanager
def started(folder: str) -> Iterator[tuple[subprocess.Popen[str], str, float]]:
    """The served demonstration, its address, and the seconds from the call to the first page."""
    env = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "PORT")}
    words = [sys.executable, "-m", "chalaza", "demo", "--port", "0", "--json"]
    began = time.perf_counter()
    with subprocess.Popen(words, env=env | {"CHALAZA_HOME": folder}, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        base = str(json.loads(child.stdout.readline())["address"]).rstrip("/")
        _read(base + "/")
        try:
            yield child, base, time.perf_counter() - began
        finally:
            child.terminate()


def _read(address: str) -> str:
    try:
        with urlopen(address, timeout=60) as answer:
            data: bytes = answer.read()
            return data.decode("utf-8", "replace") if "html" in answer.headers["Content-Type"] else ""
    except HTTPError as refused:
        refused.read()
        return ""


def walk(base: str) -> int:
    """Open every page that links lead to, up to six of a kind; how many."""
    waiting, seen, kinds = ["/", "/patterns/"], set[str](), dict[str, int]()
    while waiting:
        path = waiting.pop(0)
        kind = _NAME.sub("*", urlsplit(path).path)
        if path in seen or path.startswith("/static/") or kinds.get(kind, 0) >= 6:
            continue
        seen.add(path)
        kinds[kind] = kinds.get(kind, 0) + 1
        waiting += [unescape(one) for one in _LINK.findall(_read(base + path))]
    return len(seen)


def _memory(pid: int) -> float:
    return float(psutil.Process(pid).memory_info().rss) / 1e6


def rows() -> list[Row]:
    """Start and memory."""
    with tempfile.TemporaryDirectory(prefix="chalaza-bench-") as folder:
        with started(folder) as (_, _, first_s):
            pass
        with started(folder) as (_, _, once_s):
            pass
        with started(folder) as (child, base, again_s):
            pages = walk(base)
            (worker,) = psutil.Process(child.pid).children()
            pages_mb, worker_mb = _memory(child.pid), _memory(worker.pid)
    return [
        Row("demonstration made, first page", first_s, 20.0, _SECONDS),
        Row("started again, first page", min(once_s, again_s), 3.0, _SECONDS),
        Row(f"memory of the pages after {pages} of them", pages_mb, 280.0, _MB),
        Row("memory of the worker, with nothing to do", worker_mb, 500.0, _MB),
    ]
