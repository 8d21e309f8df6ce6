"""`chalaza demo`: three invented batches in a notebook of their own, served; or as open folders, assessed and drawn."""

import json
import os
from pathlib import Path

import click

from chalaza.cli.options import json_option, moment, reading_options, voice
from chalaza.cli.terminal import Terminal, working
from chalaza.words.language import mark

#: The seed of the demonstration and the zone of its keeper.
SEED = 20


@click.command("demo", short_help="Three invented batches, in a notebook of their own.")
@click.option(
    "--to", "folder", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
    help="Serve nothing: write the batch folders and charts into this folder, and print the answers.",
)  # fmt: skip
@click.option("--port", type=click.IntRange(0, 65535), envvar="PORT", metavar="N", help="Listen on this port.")
@click.option("--now", metavar="ISO", help="The moment the demonstration takes place (with --to). Default: the clock.")
@click.option(
    "--seed", type=click.IntRange(0, 2**31), default=SEED, show_default=True, help="Another seed, other eggs."
)
@click.option("--no-charts", is_flag=True, help="Leave the charts out (with --to): quicker.")
@json_option
@reading_options
def command(
    folder: Path | None, port: int | None, now: str | None, seed: int, no_charts: bool, as_json: bool, units: str,
    language_name: str,
) -> None:  # fmt: skip
    """Three invented batches, in a notebook of their own.

    An invented keeper has hens' eggs in their third week, quail that have hatched, and ducks set yesterday. Their notebook
    opens in your browser at the address printed; it never touches your own. It is made anew each day. Nothing in it was
    measured on real eggs.

    With --to each batch is written as an open folder of plain CSV files instead, assessed, and drawn.

    \b
    Examples:
      chalaza demo
      chalaza demo --port 9000
      chalaza demo --to try --now 2026-04-17T18:40
      chalaza demo --to try --seed 7 --no-charts
    """
    if folder is not None:
        _written(folder, now, seed, no_charts, as_json, units, language_name)
    elif now is not None or no_charts:
        raise click.UsageError("--now and --no-charts go with --to DIR")
    else:
        _served(port, seed, as_json)


def _served(port: int | None, seed: int, as_json: bool) -> None:
    """Serve the notebook of the demonstration, made anew if it is old or of another version."""
    from chalaza.cli import serve
    from chalaza.records import home, invented, serving
    from chalaza.records.clock import now

    place = home.folder() / "demo"
    os.environ[home.VARIABLE] = str(place)
    os.environ.pop("DATABASE_URL", None)  # invented batches never go into a database of one's own
    fresh = invented.is_fresh(place, now())
    if not fresh and not (place.exists() and serving.is_held(place)):
        invented.clear(place)

    def fill(moment: int) -> None:
        from chalaza.records import filling

        if not fresh:
            with working("Making three invented batches"):
                filling.fill(moment, seed)
            invented.mark(place, moment, whole=True)

    serve.run(port, as_json=as_json, fill=fill)


def _written(
    folder: Path, now: str | None, seed: int, no_charts: bool, as_json: bool, units: str, language_name: str
) -> None:
    """Write the batches as open folders with their charts, and print what is answered."""
    from chalaza.cli.assess import answer, opened
    from chalaza.scenario import demo

    speaker = voice(units, language_name)
    at = moment(now, demo.ZONE)
    with working("Making three batches"):
        made = demo.make(folder, at, seed)
    texts: list[str] = []
    for path in made:
        evidence, beliefs = opened(path)
        charts = None if no_charts else folder / "charts" / path.name
        texts.append(answer(speaker, evidence, beliefs, at, as_json=as_json, charts=charts))
    if as_json:
        click.echo(
            json.dumps(
                {path.name: json.loads(text) for path, text in zip(made, texts, strict=True)},
                ensure_ascii=False,
                indent=2,
            )
        )
        return
    t = Terminal.here()
    said = speaker.say(
        mark("All of this is invented: no bird, box or keeper like this exists. The batches are in {folder}."),
        {"folder": str(folder)},
    )
    rule = t.shown("─" * t.width)
    click.echo("\n".join([*t.wrapped(said, t.axis), rule, f"{rule}\n".join(texts)]), nl=False)
