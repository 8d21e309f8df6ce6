"""The pages of a notebook, served by a process that a test kills: entries go through gate, act and database as always.

python tests/pages/killed.py <port written to standard output>

Each line on standard input starts a process that serves, and its number is written to standard output. They share one
listening socket, so that a browser in between waits and finds the next. What is slow to load is loaded once.
"""

import os
import sys

from chalaza.records.notebook import open_records

open_records()

import waitress  # noqa: E402
from django.conf import settings  # noqa: E402
from django.db import connections  # noqa: E402
from django.http import HttpResponse  # noqa: E402
from django.urls import path  # noqa: E402
from django.views.decorators.csrf import csrf_exempt  # noqa: E402

from chalaza.pages import server  # noqa: E402
from chalaza.pages.keeper import Asked  # noqa: E402
from chalaza.pages.wsgi import application  # noqa: E402
from chalaza.records import acts, upkeep  # noqa: E402
from chalaza.records import models as m  # noqa: E402


@csrf_exempt
def enter(request: Asked, uid: str) -> HttpResponse:
    """An entry of two rows, one pointing to the other."""
    place = m.Place(uid=f"place-{uid}", name=uid)
    machine = m.Machine(uid=f"machine-{uid}", place=place, name=uid, airflow="fan")
    acts.act(request.keeper, "add", save=[place, machine], uid=uid)
    return HttpResponse(uid)


urlpatterns = [path("enter/<str:uid>/", enter)]


def tell(what: object) -> None:
    """A line for the test."""
    sys.stdout.write(f"{what}\n")
    sys.stdout.flush()


def main() -> None:
    """Serve whenever a line comes, until standard input closes."""
    settings.ROOT_URLCONF = "__main__"
    upkeep.bring_up_to_date(settings.HOME, 1_776_444_000)
    connections.close_all()
    sockets = server.listen(0, home=False)[:1]
    application()
    tell(sockets[0].getsockname()[1])
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            waitress.create_server(application(), sockets=sockets, **server.LIMITS).run()
            os._exit(0)
        tell(child)
        os.waitpid(child, 0)
        tell("gone")


if __name__ == "__main__":
    main()
