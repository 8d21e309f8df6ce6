"""`chalaza assess`: an open batch folder in, the four answers out."""

import json
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import click

from chalaza.cli.options import json_option, moment, reading_options, voice
from chalaza.cli.terminal import Terminal, working
from chalaza.errors import FolderError
from chalaza.values.beliefs import Beliefs
from chalaza.values.evidence import Evidence
from chalaza.words import numbers
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

#: What `--now` takes for the newest record.
LAST = "last"
#: A record this much older than the moment asked for is worth a word. [s]
_OLD_S = 2 * 86_400


@click.command("assess", short_help="What to do with a batch today, and why.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--now",
    metavar="ISO",
    help="Assess as of this moment; nothing later is used. 'last' is the newest record. Default: the clock.",
)
@json_option
@click.option(
    "--after",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    multiple=True,
    help="A finished batch to learn from: its probes, boxes and hens. Can be given more than once.",
)
@click.option("--charts", type=click.Path(path_type=Path), metavar="DIR", help="Write the charts into this folder.")
@click.option("--png", is_flag=True, help="Write charts as PNG as well (with --charts).")
@click.option("--why", is_flag=True, help="Say under each answer where its figures come from.")
@reading_options
def command(
    folder: Path,
    now: str | None,
    as_json: bool,
    after: tuple[Path, ...],
    charts: Path | None,
    png: bool,
    why: bool,
    units: str,
    language_name: str,
) -> None:
    """What to do with a batch today, and why.

    FOLDER is an open batch folder, its datapackage.json, or a zip of it. If it carries beliefs they are used; else
    published values are. With --after they are learnt anew from finished batches, and only from them.

    \b
    Examples:
      chalaza assess spring-hens
      chalaza assess spring-hens --why --units us
      chalaza assess spring-hens --now 2026-04-17T18:40
      chalaza assess last-spring --now last
      chalaza assess spring-hens --after last-spring --after last-autumn
      chalaza assess spring-hens.zip --json > answer.json
      chalaza assess spring-hens --charts pictures

    Advice comes first, most urgent on top: a struck bundle is for now, two strokes ask for an act, one to watch, a dash
    is good. Then the four questions: each figure with its 90 % range in brackets. Below it the line shows the range: the
    two posts are the band wanted, the stroke is the value. Last come the checks that would narrow it most.
    """
    speaker = voice(units, language_name)
    if png and charts is None:
        raise click.UsageError("--png needs --charts DIR")
    evidence, beliefs = opened(folder)
    at = newest(evidence) if now == LAST else moment(now, evidence.batch.zone)
    if after:
        beliefs = learnt(after, evidence, at)
    text = answer(speaker, evidence, beliefs, at, as_json=as_json, charts=charts, png=png, why=why, taught=bool(after))
    click.echo(text, nl=False)


def opened(folder: Path) -> tuple[Evidence, Beliefs | None]:
    """The batch in `folder`. Raises `FolderError`; for a name that is not there with the nearest ones that are."""
    from chalaza import exchange

    if not folder.exists():
        parent = folder.parent
        names = sorted(each.name for each in parent.iterdir()) if parent.is_dir() else []
        near = get_close_matches(folder.name, names, n=3)
        hint = f"; nearest: {', '.join(near)}" if near else ""
        raise FolderError(f"there is no {str(folder)!r}{hint}", allowed="an open batch folder or a zip of it")
    inner = sorted(each.parent.name for each in folder.glob("*/datapackage.json")) if folder.is_dir() else []
    if inner and not (folder / "datapackage.json").exists():
        raise FolderError(
            f"{str(folder)!r} is not a batch folder itself; it holds: {', '.join(inner)}", allowed="one of them"
        )
    return exchange.read(folder)


def learnt(after: tuple[Path, ...], evidence: Evidence, at: int) -> Beliefs:
    """What finished batches teach about this one. Raises `FolderError`, and `EvidenceError` for one not assessable."""
    from chalaza.assess import learn

    finished = [opened(folder)[0] for folder in after]
    with working("Learning"):
        return learn(
            [(one, newest(one)) for one in finished], evidence.batch.kind, as_of=at, without=evidence.batch.uid
        )


def answer(
    speaker: Voice, evidence: Evidence, beliefs: Beliefs | None, at: int, *, as_json: bool = False,
    charts: Path | None = None, png: bool = False, why: bool = False, taught: bool = False,
) -> str:  # fmt: skip
    """The assessment as text or JSON; charts are written beside it. Raises what `assess` raises."""
    from chalaza.assess import prior_beliefs, read, understand
    from chalaza.cli.report import report
    from chalaza.words import jsonable

    known = prior_beliefs(evidence.batch.kind) if beliefs is None else beliefs
    with working(f"Assessing {evidence.batch.name}"):
        understood = understand(known, evidence, at)
        found = read(understood, evidence)
    files: list[str] = []
    if charts is not None:
        from chalaza import charts as drawings

        with working(f"Drawing {evidence.batch.name}"):
            files = [str(path) for path in drawings.write(understood, found, charts, png=png)]
    speaker = speaker.of(found.zone, found.set_at)
    notes = notices(speaker, evidence, at)
    if as_json:
        extra = {"notices": list(notes), "own_beliefs": beliefs is not None, "charts": files}
        return (
            json.dumps(jsonable.assessment(speaker, found) | jsonable.plain_spaces(extra), ensure_ascii=False, indent=2)
            + "\n"
        )
    learnt_from = sorted(set(_lessons(known)))
    if learnt_from:
        text = mark("Learnt from finished batches: {batches}.")
        notes = (*notes, speaker.say(text, {"batches": ", ".join(learnt_from)}))
    elif taught:
        notes = (*notes, speaker.say(mark("None of those batches had ended by then; published values were used.")))
    elif beliefs is not None:
        notes = (*notes, speaker.say(mark("The beliefs that came with the folder were used.")))
    if files:
        notes = (*notes, speaker.say(mark("Charts are in {folder}."), {"folder": str(charts)}))
    return report(speaker, found, Terminal.here(), why=why, notices=notes)


def _lessons(beliefs: Beliefs) -> list[str]:
    """The batches that beliefs were learnt from, as their origins name them."""
    told = [one.origin.removeprefix("learnt: ") for one in beliefs.rows.values() if one.origin.startswith("learnt: ")]
    return [name for origin in told for name in origin.split()]


def newest(evidence: Evidence) -> int:
    """The latest record of a batch: a row, an event or a reading."""
    rows: tuple[Any, ...] = (
        *evidence.weighings, *evidence.air_cells, *evidence.candlings, *evidence.hatches, *evidence.breakouts,
        *evidence.notes, *evidence.events, *evidence.setting.events, *evidence.setting.checks,
    )  # fmt: skip
    times = [row.at for row in rows] + [int(each.t[-1]) for each in evidence.setting.series.values() if len(each)]
    return int(max([evidence.batch.set_at, *times]))


def notices(speaker: Voice, evidence: Evidence, at: int) -> tuple[str, ...]:
    """What to know first: records later than the moment asked for, or a last record long before it."""
    last = newest(evidence)
    holes = {"last": numbers.moment(speaker, last, year=True), "now": numbers.moment(speaker, at, year=True)}
    if last > at:
        text = mark("The folder holds records up to {last}. Nothing after {now} was used.")
        return (speaker.say(text, holes),)
    if at - last > _OLD_S:
        days = round((at - last) / 86_400)
        text = speaker.language.ngettext(
            "The newest record is {n} day old, from {last}. With --now last it is assessed as of then.",
            "The newest record is {n} days old, from {last}. With --now last it is assessed as of then.",
            days,
        )
        return (text.format(n=days, **holes),)
    return ()
