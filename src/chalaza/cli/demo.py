"""`chalaza demo`: three invented batches as open folders, assessed, with their charts."""

import json
from pathlib import Path

import click

from chalaza.cli.options import json_option, moment, reading_options, voice
from chalaza.cli.terminal import Terminal, working
from chalaza.words.language import mark

#: The seed of the demonstration and the zone of its keeper.
SEED = 20


@click.command("demo", short_help="Three invented batches, assessed.")
@click.option(
    "--to", "folder", type=click.Path(path_type=Path, file_okay=False), default=Path("chalaza-demo"), metavar="DIR",
    show_default=True, help="Write the batch folders and charts into this folder.",
)  # fmt: skip
@click.option("--now", metavar="ISO", help="The moment the demonstration takes place. Default: the clock.")
@click.option(
    "--seed", type=click.IntRange(0, 2**31), default=SEED, show_default=True, help="Another seed, other eggs."
)
@click.option("--no-charts", is_flag=True, help="Leave the charts out: quicker.")
@json_option
@reading_options
def command(
    folder: Path, now: str | None, seed: int, no_charts: bool, as_json: bool, units: str, language_name: str
) -> None:
    """Three invented batches, assessed.

    An invented keeper has hens' eggs in their third week, quail that have hatched, and ducks set yesterday. Each batch is
    written as an open folder of plain CSV files, assessed, and drawn. Nothing in it was measured on real eggs.

    \b
    Examples:
      chalaza demo
      chalaza demo --to try --now 2026-04-17T18:40
      chalaza demo --seed 7 --no-charts
      chalaza assess chalaza-demo/speckled-hens --why
    """
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
