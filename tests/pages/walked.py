"""Opens every page that links lead to, in a process of its own, and says which heavy packages it then has loaded.

python tests/pages/walked.py <data folder>
"""

import json
import os
import re
import sys
from html import unescape
from urllib.parse import urlsplit

#: What the page process must never load: each costs 25 MB and 0.3 s and more, and none is needed to show a page.
HEAVY = ("scipy.stats", "scipy.signal", "scipy.optimize", "scipy.integrate", "numba", "polars", "pandas", "ortools")
_LINK = re.compile(r'(?:href|hx-get)="(/[^"#]*)')


def main(folder: str) -> None:
    """Fill a notebook with the demonstration, walk, and print what was found as JSON."""
    os.environ["CHALAZA_HOME"] = folder
    os.environ.pop("DATABASE_URL", None)
    from pathlib import Path

    from chalaza.records import invented
    from chalaza.records.notebook import open_records

    invented.clear(Path(folder))
    open_records()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    from chalaza.records import clock, filling

    filling.fill(clock.now())
    before = [name for name in HEAVY if name in sys.modules]
    sys.stdout.write(json.dumps({"before": before, **_walk()}) + "\n")


def _walk() -> dict[str, object]:
    from django.test import Client
    from django.urls import Resolver404, resolve

    client = Client(SERVER_NAME="127.0.0.1", SERVER_PORT="8765")
    waiting, seen, answers = ["/", "/patterns/"], set(), {}
    while waiting:
        path = waiting.pop(0)
        try:
            route = str(resolve(urlsplit(path).path).route)
        except Resolver404:
            answers[path] = 404
            continue
        if route in seen or path.startswith("/static/"):
            continue
        seen.add(route)
        response = client.get(path)
        answers[route] = response.status_code
        if response.headers["Content-Type"].startswith("text/html") and not response.streaming:
            found = (unescape(one) for one in _LINK.findall(response.content.decode()))
            waiting += [one for one in found if not one.startswith("/static/")]
        elif response.streaming:
            list(response)
    import resource

    loaded = [name for name in HEAVY if name in sys.modules]
    return {
        "loaded": loaded,
        "answers": answers,
        "memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


if __name__ == "__main__":
    sys.path.insert(0, os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__)))))
    main(sys.argv[1])
