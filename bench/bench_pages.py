"""Pages of a notebook of five years, over the wire: six clients at once, alone and while millions of rows are imported.

    python bench bench_pages

The notebook is served as a keeper serves it, worker and all. Six clients each ask for a page, read it for about a second
and ask for the next: home and batches in turn. Then single requests, warm: a chart, the list of logs. The figures are
seconds from asking to the last byte; 95 of 100 are faster. Memory is that of the pages' process after all of it.
"""

import http.client
import json
import random
import subprocess
import sys
import threading
import time
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import notebook
from bench_series import ask_import, send_logs, undo_import
from row import Row

DAY_S = 86_400
CLIENTS, READING_S, ROUND_S, IMPORTS = 6, 1.0, 25.0, 12
P95_S, CHART_S = 0.150, 0.100
PAGES_MB, FIRST_PAGE_KB = 280.0, 200.0


@dataclass(frozen=True, slots=True)
class Served:
    """A served notebook: its address and its process."""

    host: str
    port: int
    pid: int


@contextmanager
def served(home: Path) -> Iterator[Served]:
    """The notebook served by the command itself, on a free port."""
    words = [sys.executable, "-m", "chalaza", "serve", "--port", "0", "--json"]
    with subprocess.Popen(words, env=notebook.environment(home), stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        address = urlsplit(str(json.loads(child.stdout.readline())["address"]))
        try:
            yield Served(str(address.hostname), int(address.port or 80), child.pid)
        finally:
            child.terminate()


class Client:
    """A browser that keeps its connection."""

    def __init__(self, at: Served) -> None:
        self.wire = http.client.HTTPConnection(at.host, at.port, timeout=60)

    def get(self, path: str, *, packed: bool = False) -> tuple[float, bytes]:
        """Seconds to the last byte, and the page. Raises `SystemExit` for anything but a page."""
        began = time.perf_counter()
        self.wire.request("GET", path, headers={"Accept-Encoding": "gzip"} if packed else {})
        answer = self.wire.getresponse()
        body = answer.read()
        if answer.status != 200:
            raise SystemExit(f"{path} answered {answer.status}")
        return time.perf_counter() - began, body


def crowd(at: Served, paths: Sequence[str], until: threading.Event) -> dict[str, list[float]]:
    """Six clients asking in turn for these pages until told to stop: seconds of each answer, by the first part of its path."""
    found: dict[str, list[float]] = {path: [] for path in paths}
    lock, errors = threading.Lock(), list[BaseException]()

    def one(number: int) -> None:
        client, at_page, rng = Client(at), 3 * number, random.Random(number)
        try:
            while not until.wait(READING_S * rng.uniform(0.5, 1.5)):
                path = paths[at_page % len(paths)]
                spent, _ = client.get(path)
                with lock:
                    found[path].append(spent)
                at_page += 1
        except BaseException as failed:
            errors.append(failed)

    threads = [threading.Thread(target=one, args=(n,)) for n in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if errors:
        raise errors[0]
    return found


def percentile(values: Sequence[float], share: float) -> float:
    """The value that so many of the values do not exceed."""
    ordered = sorted(values)
    return ordered[min(int(share * len(ordered)), len(ordered) - 1)]


def _rows(found: dict[str, list[float]], when: str) -> list[Row]:
    batches = [spent for path, values in found.items() if path != "/" for spent in values]
    out = []
    for name, values in (("home", found["/"]), ("batch", batches)):
        out += [
            Row(f"{name}, {when}: half of {len(values)}", percentile(values, 0.5), P95_S, "s"),
            Row(f"{name}, {when}: 95 of 100", percentile(values, 0.95), P95_S, "s"),
        ]
    return out


def _for(seconds: float) -> threading.Event:
    stop = threading.Event()
    timer = threading.Timer(seconds, stop.set)
    timer.daemon = True
    timer.start()
    return stop


def _while_importing(at: Served, paths: Sequence[str], now: int) -> dict[str, list[float]]:
    """The same crowd from the moment that imports are asked for until the last is done.

    The logs end before the running batches: what a page costs whose own batch got new readings is measured by itself.
    """
    from django.db import connection

    from chalaza.records import models as m
    from chalaza.records import work

    sent, done = send_logs(now - 725 * DAY_S, IMPORTS), threading.Event()
    asked = [ask_import(upload, n % notebook.MACHINES) for n, upload in enumerate(sent)]

    def watch() -> None:
        while m.Work.objects.filter(uid__in=asked, state__in=work.OPEN).exists():
            time.sleep(0.1)
        connection.close()
        done.set()

    watcher = threading.Thread(target=watch)
    watcher.start()
    found = crowd(at, paths, done)
    watcher.join()
    for uid in asked:
        undo_import(uid)
    return found


def _single(at: Served, batch: str) -> list[Row]:
    """What is asked for once a page: a chart, warm; the list of logs; the size of the first page."""
    client = Client(at)
    out = []
    for name in ("warmth", "water", "clock", "count"):
        path = f"/batches/{batch}/chart/{name}/"
        client.get(path)
        out.append(Row(f"chart of {name}, warm: 95 of 100", percentile([client.get(path)[0] for _ in range(40)], 0.95),
                       CHART_S, "s"))  # fmt: skip
    out.append(
        Row("list of 600 logs: 95 of 100", percentile([client.get("/logs/")[0] for _ in range(20)], 0.95), P95_S, "s")
    )
    packed = len(client.get("/", packed=True)[1])
    sheets = sum(len(zlib.compress(one.read_bytes(), 6)) for one in _sheets())
    out.append(Row("first page with its style and script", (packed + sheets) / 1000.0, FIRST_PAGE_KB, "kB"))
    return out


def _sheets() -> list[Path]:
    """What the home page brings along."""
    from chalaza.pages.static_files import FOLDERS

    return [*sorted(FOLDERS[""].glob("*.css")), FOLDERS["htmx/"] / "htmx-2.min.js"]


def rows() -> list[Row]:
    """Times of pages alone and during an import, and the memory of their process."""
    built = notebook.ready()
    home = Path(built.home)
    notebook.here(home)
    from chalaza.worker.limits import resident_mb

    paths = [path for uid in built.running for path in ("/", f"/batches/{uid}/")]
    with served(home) as at:
        warm = Client(at)
        for path in paths:
            warm.get(path)
        out = _rows(crowd(at, paths, _for(ROUND_S)), "six clients")
        out += _rows(_while_importing(at, paths, built.now), f"{IMPORTS} imports of 1 M rows")
        out += _single(at, built.running[-1])
        if sys.platform == "linux":
            out.append(Row("memory of the pages", resident_mb(at.pid), PAGES_MB, "MB"))
    return out
