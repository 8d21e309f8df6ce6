"""`chalaza backup`: the notebook and its stored files in one zip, taken while it is in use, read back before it counts."""

import json
import os
import subprocess
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from shutil import which
from typing import TYPE_CHECKING

import click

from chalaza.cli.options import json_option
from chalaza.errors import NotebookError
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

if TYPE_CHECKING:
    from chalaza.records.backup import Manifest


@click.command("backup", short_help="Everything in one file, while it is in use.")
@click.argument("file", required=False, type=click.Path(path_type=Path), metavar="[FILE]")
@json_option
def command(file: Path | None, as_json: bool) -> None:
    """Everything in one file: the notebook, and the files you gave it.

    It may be taken while the notebook is served. It is read back before it counts. FILE is a new zip file, or a folder to
    put it in; without one it is put here, named after this minute. Keep it on another disk.

    \b
    Examples:
      chalaza backup
      chalaza backup /media/stick
      chalaza backup april.zip
    """
    from chalaza.records import backup, database, home

    folder = home.folder()
    target = _target(file)
    now = int(time.time())
    if url := os.environ.get(database.VARIABLE):
        made = _of_server(target, url, folder, now)
    else:
        notebook = folder / "notebook.db"
        if not notebook.is_file():
            raise NotebookError(mark("There is no notebook in {folder} yet: chalaza serve begins one."), folder=folder)
        made = backup.to_file(target, notebook, folder, now)
    _say(target, made, as_json)


def _target(file: Path | None) -> Path:
    """The file to write. Raises `NotebookError` if it is there already."""
    named = Path(f"chalaza-{datetime.now(UTC).astimezone():%Y-%m-%d-%H%M}.zip")
    target = named if file is None else file / named if file.is_dir() else file
    if target.exists():
        raise NotebookError(mark("{file} is there already and stays as it is: choose another name."), file=target)
    return target


def _of_server(target: Path, url: str, folder: Path, now: int) -> "Manifest":
    """A backup of a database server, by its own program. Raises `NotebookError` saying what to run where that is missing."""
    from chalaza.records import backup, database

    setting = database.of_url(url)
    program = which("pg_dump")
    if program is None:
        text = mark(
            "This notebook lies on a database server, and pg_dump is not on this computer. Run it where it is: "
            "pg_dump --format=custom --file=notebook.dump {name}. Copy the folder {files} as well."
        )
        raise NotebookError(text, name=setting["NAME"], files=folder / "files")
    with tempfile.TemporaryDirectory(prefix="backup-", dir=folder) as scratch:
        dump = Path(scratch) / backup.SERVER_DATABASE
        words = ["--format=custom", f"--file={dump}", f"--dbname={setting['NAME']}", "--no-password"]
        env = os.environ | {
            name: str(setting[key])
            for name, key in (("PGHOST", "HOST"), ("PGPORT", "PORT"), ("PGUSER", "USER"), ("PGPASSWORD", "PASSWORD"))
            if setting[key]
        }
        done = subprocess.run([program, *words], env=env, capture_output=True, text=True, check=False)
        if done.returncode:
            raise NotebookError(mark("No backup was made; pg_dump says: {why}"), why=done.stderr.strip())
        return backup.around(target, dump, folder, now)


def _say(target: Path, made: "Manifest", as_json: bool) -> None:
    if as_json:
        told = {"file": str(target), "bytes": target.stat().st_size, "rows": dict(made.rows), "left_out": made.left_out}
        click.echo(json.dumps(told, indent=2))
        return
    said = mark("{file}: {size} MB, {batches} batches, {acts} entries, {files} stored files. Read back, and sound.")
    if not made.rows:
        said = mark("{file}: {size} MB, the database as pg_dump gives it, {files} stored files. Read back.")
    holes = {
        "file": str(target), "size": f"{target.stat().st_size / 1e6:.1f}", "files": str(made.files),
        "batches": str(made.rows.get("records_batch", 0)), "acts": str(made.rows.get("records_act", 0)),
    }  # fmt: skip
    click.echo(Voice().say(said, holes))
    if made.left_out:
        text = mark("Left out, because they are damaged on the disk: {names}")
        click.echo(Voice().say(text, {"names": ", ".join(made.left_out)}), err=True)
