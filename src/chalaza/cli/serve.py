"""`chalaza serve`: the notebook in the browser, until Ctrl-C."""

import json
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Timer

import click

from chalaza.cli.options import json_option
from chalaza.words.language import mark
from chalaza.words.numbers import Voice, moment

#: So long the first page is let go before, then what draws charts is loaded. [s]
_AFTER_S = 1.0
_PLAIN = mark(
    "Whoever listens on that network could read along: nothing is encrypted on the way. Do it only on a network you "
    "trust. Each phone is let in by a code: {page}"
)


@click.command("serve", short_help="The notebook in your browser, and on your phone.")
@click.option(
    "--port", type=click.IntRange(0, 65535), envvar="PORT", metavar="N",
    help="Listen on this port. Default: 8765, or the next that is free.",
)  # fmt: skip
@click.option("--home", is_flag=True, help="Listen on the home network too, for phones that are let in one by one.")
@click.option("--copied", is_flag=True, help="A copy of the database server was made: bring its tables up to date.")
@click.option("--clock-is-right", is_flag=True, help="Do not ask about a clock that stands before the newest entry.")
@json_option
def command(port: int | None, home: bool, copied: bool, clock_is_right: bool, as_json: bool) -> None:
    """The notebook in your browser, until you end it with Ctrl-C.

    It keeps everything on this computer, in a folder of your own (CHALAZA_HOME names another one), and answers to this
    computer alone. With --home it listens on your home network too, so that a phone in the shed can be let in.

    \b
    Examples:
      chalaza serve
      chalaza serve --home
      chalaza serve --port 9000
      CHALAZA_HOME=/media/stick/chalaza chalaza serve
    """
    run(port, home=home, copied=copied, clock_is_right=clock_is_right, as_json=as_json)


def run(
    port: int | None, *, home: bool = False, copied: bool = False, clock_is_right: bool = False, as_json: bool = False,
    fill: Callable[[int], None] | None = None,
) -> None:  # fmt: skip
    """Serve the notebook of this process until it is ended. `fill(now)` may put something in it before it answers.

    Raises `ChalazaError` with what keeps it from being served.
    """
    from chalaza.records.notebook import open_records

    open_records()
    from django.conf import settings

    from chalaza.pages import server
    from chalaza.pages.wsgi import application
    from chalaza.records import clock, lessons, serving, upkeep
    from chalaza.worker.supervise import Supervisor

    folder = Path(settings.HOME)
    upkeep.check_folder(folder)
    server.heed_signals()
    server.keep_small()
    with serving.held(folder) as held:
        sockets = server.listen(port, home=home)
        _make_ready(folder, clock.now(), copied=copied, clock_is_right=clock_is_right)
        if fill is not None:
            fill(clock.now())
        pages = application(home=home)
        held.announce(server.address(sockets))
        with suppress(KeyboardInterrupt, SystemExit):  # ended by hand, as it is meant to be
            _say_where(server.address(sockets), server.home_addresses(sockets) if home else None, folder, as_json)
            with Supervisor():
                lessons.learn_elsewhere()
                warm = Timer(_AFTER_S, _warm)
                warm.daemon = True
                warm.start()
                server.run(pages, sockets)
    _tell(mark("Ended."))


def _make_ready(folder: Path, now: int, *, copied: bool, clock_is_right: bool) -> None:
    """Tables, copies, disk and clock; what was done is said."""
    from chalaza.records import copies, upkeep

    brought = upkeep.bring_up_to_date(folder, now, copied=copied)
    if brought.copy is not None:
        said = mark("The tables were brought up to date. The notebook as it was is kept for {days} days: {file}")
        _tell(said, days=str(copies.KEPT_D), file=str(brought.copy.path))
    copies.drop_old(folder, now)
    if upkeep.room_b(folder) < upkeep.LOW_B:
        said = mark("The disk has {free} MB left. Reading and entries go on; files are not taken in. Make room.")
        _tell(said, free=str(upkeep.room_b(folder) // 1_000_000))
    newest = upkeep.clock_doubt(now)
    if newest is not None and not clock_is_right:
        _ask_about_clock(moment(Voice(), now, year=True), moment(Voice(), newest, year=True))


def _ask_about_clock(now: str, newest: str) -> None:
    """Ask whether the clock is right. Raises `NotebookError` unless somebody says so."""
    from chalaza.errors import NotebookError

    holes = {"now": now, "newest": newest}
    if sys.stdin.isatty():
        asked = mark(
            "This computer's clock says {now} UTC, but the newest entry is of {newest} UTC. Is the clock right?"
        )
        if click.confirm(Voice().say(asked, holes), default=False, err=True):
            return
    raise NotebookError(
        mark("This computer's clock says {now} UTC, but the newest entry is of {newest} UTC. Set the clock, then start "
             "again; if the clock is right, say chalaza serve --clock-is-right."),
        **holes,
    )  # fmt: skip


def _tell(text: str, **holes: str) -> None:
    click.echo(Voice().say(text, holes), err=True)


def _say_where(address: str, on_network: list[str] | None, folder: Path, as_json: bool) -> None:
    """Say where it answers: the first line on standard output."""
    if as_json:
        click.echo(json.dumps({"address": address, "home": on_network or [], "folder": str(folder)}))
        return
    voice = Voice()
    lines = [
        voice.say(mark("Chalaza answers at {address}"), {"address": address}),
        voice.say(mark("The notebook lies in {folder}. End with Ctrl-C."), {"folder": str(folder)}),
    ]
    if on_network:
        lines.append(voice.say(mark("On the home network: {addresses}"), {"addresses": "  ".join(on_network)}))
    elif on_network is not None:
        lines.append(
            voice.say(mark("This computer is on no network at this moment. Once it is, phones can be let in."))
        )
    if on_network is not None:
        lines.append(voice.say(_PLAIN, {"page": f"{address}phones/"}))
    click.echo("\n".join(lines))


def _warm() -> None:
    """Draw one empty chart, so that the first page with charts need not wait for what draws them."""
    from chalaza.charts import draw

    sides = dict.fromkeys(("left", "right", "top", "bottom"), 0)
    nothing = {"data": {"values": []}, "mark": "point", "width": 1, "height": 1, "padding": sides, "description": ""}
    draw.to_svg(nothing)
