"""`chalaza bring`: an open batch folder into the notebook."""

import json
from pathlib import Path

import click

from chalaza.cli.options import json_option
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

_DONE = mark("{batch} is in the notebook: {readings} readings, of which {doubled} were there already.")
_KNOWN = mark("{known} records it shares with what was there were left as they are.")
_BELIEFS = mark("It is assessed with the beliefs it came with.")


@click.command("bring", short_help="A batch folder into the notebook.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--rename", is_flag=True, help="Give records that clash with others in the notebook new names.")
@json_option
def command(folder: Path, rename: bool, as_json: bool) -> None:
    """A batch folder into the notebook.

    FOLDER is an open batch folder or a zip of it, from another notebook or written by hand. All of it goes in, or nothing.
    What it shares with batches in the notebook (a box, a probe, a power cut) is stored once. It can be undone.

    \b
    Examples:
      chalaza bring spring-hens
      chalaza bring spring-hens.zip
      chalaza bring spring-hens --rename
    """
    from chalaza.cli.assess import opened

    evidence, believed = opened(folder)
    from chalaza.cli.open_notebook import opened_notebook

    with opened_notebook():
        from chalaza.records import folder as folders
        from chalaza.records import models as m

        keeper = m.Keeper.objects.the_one()
        brought = folders.bring(keeper, evidence, believed, name=folder.name, rename=rename)
    if as_json:
        found = {
            "batch": brought.batch,
            "known": brought.known,
            "readings": brought.readings,
            "doubled": brought.doubled,
        }
        click.echo(json.dumps(found))
        return
    voice = Voice()
    holes = {"batch": evidence.batch.name, "readings": str(brought.readings), "doubled": str(brought.doubled)}
    said = [voice.say(_DONE, holes)]
    said += [voice.say(_KNOWN, {"known": str(brought.known)})] if brought.known else []
    said += [voice.say(_BELIEFS)] if believed is not None else []
    click.echo("\n".join(said))
