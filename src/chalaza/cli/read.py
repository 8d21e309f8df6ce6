"""`chalaza read`: a logger file in, what it holds and what it leaves open; with `--into`, into a batch folder."""

import json
import os
import sys
import textwrap
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from chalaza.cli.options import json_option
from chalaza.cli.terminal import Terminal
from chalaza.errors import ChalazaError, ReadingError

if TYPE_CHECKING:
    from chalaza.cli.into import Goal
    from chalaza.intake import Reading, Recipe

#: Names the folder in which recipes are kept; without it the platform's place for data of a program.
DATA = "CHALAZA_DATA"


@click.command("read", short_help="Read a logger file, whatever its look.")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@click.option("--answer", "answers", multiple=True, metavar="CODE=CHOICE", help="Answer a question. May be repeated.")
@click.option("--zone", metavar="ZONE", help="Time zone of the logger's clock, such as Europe/Berlin or +02:00.")
@click.option("--recipe", "recipe_name", metavar="NAME", help="Use the answers kept under this name.")
@click.option("--keep-recipe", "keep", metavar="NAME", help="Keep the answers of this run under this name.")
@click.option(
    "--into", type=click.Path(path_type=Path), metavar="FOLDER", help="Add the readings to this open batch folder."
)
@click.option(
    "--probe", metavar="UID", help="Probe of the folder they belong to (with --into); needed if it has several."
)
@click.option(
    "--probe-of",
    "pairs",
    multiple=True,
    metavar="NAME=UID",
    help="Which probe of the file is which of the folder (with --into). May be repeated.",
)
def command(
    file: Path, as_json: bool, answers: tuple[str, ...], zone: str | None, recipe_name: str | None, keep: str | None,
    into: Path | None, probe: str | None, pairs: tuple[str, ...],
) -> None:  # fmt: skip
    """Read a logger file, whatever its look.

    FILE is the file as the logger or its program wrote it. Chalaza finds out delimiter, decimal mark, dates, units and
    probes, and says why it took them so. Where a file can be read in two ways it asks, and keeps back what hangs on it.

    \b
    Examples:
      chalaza read log.csv
      chalaza read log.csv --zone Europe/Berlin
      chalaza read log.csv --answer date-order=dmy --answer unit:2=degc
      chalaza read log.csv --answer date-order=dmy --keep-recipe shed-logger
      chalaza read next.csv --recipe shed-logger
      chalaza read log.csv --json > report.json
      chalaza read log.csv --into spring-hens
      chalaza read log.csv --into spring-hens --probe display --zone +01:00
      chalaza read log.csv --into spring-hens --probe-of "Probe 1=display" --probe-of "Probe 2=room"

    A recipe is used only for files of the same look. Nothing is changed in the file.

    With --into the readings are added to those of a probe of the folder. A file may come again, longer: no reading comes
    in twice, and where two differ the one that stood there first stays. Nothing is written while a question is open. A
    file that names no zone is read in that of the batch, unless --zone says another.
    """
    from chalaza.intake import recipe as recipes

    given = parsed(answers)
    if into is None and (probe is not None or pairs):
        raise click.UsageError("--probe and --probe-of need --into FOLDER")
    if not file.is_file():
        what = "is a folder, not a file" if file.is_dir() else "is not there"
        raise ReadingError(f"{str(file)!r} {what}: give the file the logger wrote")
    recipe = recipes.load(recipe_folder(), recipe_name) if recipe_name else None
    goal = None if into is None else _goal(into, probe, pairs)
    reading = _read(file, given, zone, recipe)
    by_batch = goal is not None and any(question.code == "zone" for question in reading.report.questions)
    if goal is not None and by_batch:
        reading = _read(file, given, goal.evidence.batch.zone, recipe)
    report = reading.report
    kept = ""
    if keep:
        made = recipes.Recipe(keep, report.look, dict(report.answered), zone or "")
        kept = str(recipes.save(recipe_folder(), made))
    for code in sorted(set(given) - set(report.answered) - {"zone"}):
        click.echo(f"The answer {code!r} was not asked for by this file.", err=True)
    if goal is not None:
        _bring(reading, goal, file, by_batch=by_batch, as_json=as_json)
    elif as_json:
        _print(report.to_json())
    else:
        for line in folded(report.lines(), Terminal.here()):
            click.echo(line)
        if report.questions:
            click.echo("Answer with --answer CODE=CHOICE; keep the answers for the next file with --keep-recipe NAME.")
    if kept and not as_json:
        click.echo(f"Kept as recipe {keep!r} for files of this look: {kept}")


def _goal(folder: Path, probe: str | None, pairs: tuple[str, ...]) -> "Goal":
    from chalaza.cli.into import goal

    return goal(folder, probe, pairs)


def _read(file: Path, answers: Mapping[str, str], zone: str | None, recipe: "Recipe | None") -> "Reading":
    from chalaza import intake

    with _progress(file) as told:
        return intake.read(file, answers=answers, zone=zone, recipe=recipe, progress=told)


def _bring(reading: "Reading", goal: "Goal", file: Path, *, by_batch: bool, as_json: bool) -> None:
    """Add what was read to the folder and say so; with questions open, say those and write nothing."""
    from chalaza.cli import into

    try:
        into.block(reading.report, file)
        brought = into.bring(reading, goal)
    except ChalazaError:
        if as_json:
            _print(reading.report.to_json() | {"into": None})
        raise
    if as_json:
        _print(reading.report.to_json() | {"into": into.as_json(brought, goal, by_batch)})
        return
    for line in into.lines(reading, brought, goal, file, by_batch=by_batch, t=Terminal.here()):
        click.echo(line)


def _print(values: object) -> None:
    click.echo(json.dumps(values, ensure_ascii=False, indent=2))


def parsed(answers: Iterable[str]) -> dict[str, str]:
    """`CODE=CHOICE` pairs. Raises a usage mistake for anything else."""
    found: dict[str, str] = {}
    for text in answers:
        code, mark, choice = text.partition("=")
        if not (code.strip() and mark and choice.strip()):
            raise click.BadParameter(f"{text!r} is not CODE=CHOICE, for example date-order=dmy", param_hint="--answer")
        found[code.strip()] = choice.strip()
    return found


def recipe_folder() -> Path:
    """Where recipes are kept."""
    if os.environ.get(DATA):
        return Path(os.environ[DATA]) / "recipes"
    from platformdirs import user_data_path

    return user_data_path("chalaza", appauthor=False) / "recipes"


def folded(lines: Iterable[str], t: Terminal) -> Iterable[str]:
    """Lines folded to the width of the terminal, what follows hanging two cells further in."""
    for line in lines:
        lead = line[: len(line) - len(line.lstrip())]
        parts = textwrap.wrap(
            line.strip(), t.width, initial_indent=lead, subsequent_indent=f"{lead}  ", break_on_hyphens=False
        )
        yield from (t.shown(part) for part in parts or [""])


class _progress:  # noqa: N801  # used as a verb: with _progress(file) as told
    """A line on standard error with the share done, where a person sees it."""

    def __init__(self, file: Path) -> None:
        self.name, self.shown = file.name, sys.stderr.isatty()

    def __enter__(self) -> Callable[[float], None] | None:
        return self.told if self.shown else None

    def told(self, share: float) -> None:
        click.echo(f"\rReading {self.name}: {share:.0%} ", nl=False, err=True)

    def __exit__(self, *exc: object) -> None:
        if self.shown:
            click.echo("\r" + " " * (len(self.name) + 16) + "\r", nl=False, err=True)
