"""`chalaza give`: a batch of the notebook as an open batch folder."""

import json
from difflib import get_close_matches
from pathlib import Path

import click

from chalaza.cli.options import json_option
from chalaza.errors import EvidenceError


@click.command("give", short_help="A batch of the notebook as a folder.")
@click.argument("batch")
@click.argument("target", type=click.Path(path_type=Path), metavar="FILE.zip")
@json_option
def command(batch: str, target: Path, as_json: bool) -> None:
    """A batch of the notebook as an open batch folder.

    BATCH is its name or uid. FILE.zip is a new file: plain CSV tables in a zip, with all readings, and the beliefs the
    batch is assessed with, so that another notebook answers the same.

    \b
    Examples:
      chalaza give "Speckled hens" spring-hens.zip
      chalaza give "Speckled hens" /media/stick/spring-hens.zip
      chalaza give hens-batch hens.zip
      chalaza assess spring-hens.zip
      chalaza bring spring-hens.zip
    """
    if target.exists():
        raise EvidenceError(f"{target} is there already and stays as it is: choose another name")
    from chalaza.cli.open_notebook import opened_notebook

    with opened_notebook():
        from chalaza.records import folder

        uid = _uid(batch)
        part = target.with_name(f".{target.name}.part")
        try:
            with part.open("xb") as file:
                folder.out(uid, file)
            part.rename(target)
        finally:
            part.unlink(missing_ok=True)
    click.echo(json.dumps({"batch": uid, "file": str(target)}) if as_json else str(target))


def _uid(given: str) -> str:
    """The batch of that name or uid. Raises `EvidenceError` naming the nearest."""
    from chalaza.records import models as m

    named = dict(m.Batch.objects.values_list("uid", "name"))
    found = [uid for uid, name in named.items() if given in (uid, name)]
    if len(found) == 1:
        return found[0]
    if found:
        raise EvidenceError(f"{len(found)} batches are called {given!r}; write one of their uids: {', '.join(found)}")
    near = get_close_matches(given, list(named.values()), n=3)
    hint = f"; nearest: {', '.join(near)}" if near else f"; there are: {', '.join(named.values()) or 'none'}"
    raise EvidenceError(f"no batch {given!r} in the notebook{hint}")
