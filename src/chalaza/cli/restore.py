"""`chalaza restore`: a backup in the place of the notebook, which is kept as a copy first."""

import json
import os
import sys
from pathlib import Path

import click

from chalaza.cli.options import json_option
from chalaza.errors import NotebookError
from chalaza.words.language import mark
from chalaza.words.numbers import Voice


@click.command("restore", short_help="A backup in the place of the notebook.")
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False), metavar="FILE")
@click.option("--yes", is_flag=True, help="Do not ask whether the present notebook may make way.")
@json_option
def command(file: Path, yes: bool, as_json: bool) -> None:
    """A backup in the place of the notebook.

    FILE is what `chalaza backup` wrote, or a copy that was kept in the data folder. It is looked at closely, for it may
    come from anywhere. The notebook that is there is kept as a copy for 30 days. While the notebook is served, do this on
    its own page instead.

    \b
    Examples:
      chalaza restore chalaza-2026-04-17-1840.zip
      chalaza restore april.zip --yes
      chalaza restore /media/stick/april.zip
      CHALAZA_HOME=try chalaza restore april.zip
    """
    from chalaza.records import database, home

    if os.environ.get(database.VARIABLE):
        text = mark("This notebook lies on a database server: unpack notebook.dump from the backup, then run pg_restore "
                    "--clean --dbname=NAME notebook.dump. The files of the backup go into {files}.")  # fmt: skip
        raise NotebookError(text, files=home.folder() / "files")
    folder = home.ready()
    from chalaza.records import serving

    with serving.held(folder):
        _restore(file, folder, yes=yes, as_json=as_json)


def _restore(file: Path, folder: Path, *, yes: bool, as_json: bool) -> None:
    from chalaza.records.notebook import open_records

    open_records()
    from chalaza.records import clock, copies, restore, upkeep

    upkeep.check_folder(folder)
    notebook = folder / "notebook.db"
    if notebook.exists() and not yes:
        _ask(folder)
    with file.open("rb") as given:
        made = restore.restore(given, notebook, folder, clock.now())
    if as_json:
        copy = None if made.copy is None else str(made.copy.path)
        click.echo(
            json.dumps({"batches": made.batches, "acts": made.acts, "files": made.files, "copy": copy}, indent=2)
        )
        return
    voice = Voice()
    said = mark("In place in {folder}: {batches} batches, {acts} entries, {files} stored files.")
    holes = {"batches": str(made.batches), "acts": str(made.acts), "files": str(made.files), "folder": str(folder)}
    click.echo(voice.say(said, holes))
    if made.copy is not None:
        said = mark("The notebook as it was is kept for {days} days: {file}")
        click.echo(voice.say(said, {"days": str(copies.KEPT_D), "file": str(made.copy.path)}))


def _ask(folder: Path) -> None:
    """Ask whether the notebook may make way. Raises `NotebookError` unless somebody says so."""
    voice, holes = Voice(), {"folder": str(folder)}
    asked = mark("The notebook in {folder} makes way for the backup; it is kept as a copy. Go on?")
    if sys.stdin.isatty() and click.confirm(voice.say(asked, holes), default=False, err=True):
        return
    raise NotebookError(
        mark("There is a notebook in {folder}; nothing was changed. To let it make way, say --yes."), **holes
    )
