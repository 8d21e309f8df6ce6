"""`chalaza begin`: a new batch folder from what is known on the day of setting."""

import json
import shlex
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import click

from chalaza import quantities as q
from chalaza.cli.options import json_option, reading_options, voice
from chalaza.cli.terminal import Terminal
from chalaza.errors import EvidenceError, FolderError
from chalaza.intake.typed import days_in, measure, moment_in, stored, zone_of
from chalaza.values.evidence import Airflow, ProbeSort
from chalaza.words import numbers
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

if TYPE_CHECKING:
    from chalaza.exchange import Start
    from chalaza.words.basis import Cited


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One thing to say of a cell of the new folder, taken or asked for: where it stands, in words, its sources."""

    file: str
    column: str
    words: str
    sources: "tuple[Cited, ...]" = ()


@click.command("begin", short_help="A new batch folder, on the day of setting.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--kind", "kind_name", required=True, metavar="KIND", help="Kind of bird; chalaza facts lists them.")
@click.option("--eggs", type=click.IntRange(1, int(q.EGGS.high)), required=True, metavar="N", help="Eggs set.")
@click.option(
    "--set", "set_text", required=True, metavar="MOMENT", help='When they went under heat: "2026-11-01 18:00".'
)
@click.option("--zone", metavar="ZONE", help="Your time zone, such as Europe/Berlin. Default: this computer's.")
@click.option("--name", metavar="TEXT", help="What you call the batch. Default: the folder's name.")
@click.option("--box", metavar="NAME", help="What you call the box; batches in it share what is learnt of it.")
@click.option(
    "--airflow", type=click.Choice([str(one) for one in Airflow]), help="Whether a fan moves the air. Default: fan."
)
@click.option(
    "--probe", type=click.Choice([str(one) for one in ProbeSort]), help="What you read it by. Default: display."
)
@click.option("--height", metavar="MM", help="Height of the probe over the egg tops; counts in still air. 12 or 0.5in.")
@click.option("--altitude", metavar="M", help="Altitude of the place: 140 or 460ft. Default: sea level.")
@click.option("--wanted", type=click.IntRange(1, int(q.YOUNG.high)), metavar="N", help="Young hoped for.")
@click.option("--parents", metavar="NAME", help="Name of the flock or pair; its batches share what is learnt.")
@click.option("--laid", metavar="DAY[..DAY]", help="Day the eggs were laid, or first and last: 2026-10-24..2026-10-30.")
@click.option("--posted", is_flag=True, help="The eggs came by post or were bought.")
@click.option(
    "--one-by-one/--counted", "one_by_one", default=True, help="A row for each egg (default), or one for them all."
)
@json_option
@reading_options
def command(folder: Path, as_json: bool, units: str, language_name: str, **given: Any) -> None:
    """A new batch folder, on the day of setting.

    FOLDER is a new name or an empty folder. All tables are written into it, also those that are empty still: fill them
    with any spreadsheet. What you do not say is taken as usual, and it says what and where from.

    \b
    Examples:
      chalaza begin spring-hens --kind chicken --eggs 24 --set "2026-11-01 18:00"
      chalaza begin quail --kind coturnix --eggs 60 --set "2026-11-01 18:00" --counted
      chalaza begin ducks --kind duck --eggs 9 --set "2026-11-01 18:00" --airflow still --height 5
      chalaza begin posted --kind hen --eggs 12 --set "2026-11-01 18:00" --posted --altitude 460ft

    The hour of setting is that of your clock. In the hour that comes twice in autumn write the offset behind it, as in
    2026-10-25 02:30+01:00. Eggs are labelled A1 to A6, B1 to B6 and so on: write that on the shells.
    """
    from chalaza import exchange

    speaker = voice(units, language_name)
    target = _target(folder)
    start = _start(target, given)
    evidence = exchange.begun(start)
    speaker = speaker.of(start.zone, start.set_at)
    said = {
        "taken": _taken(speaker, start, given),
        "asked": _asked(speaker, start),
        "cautions": _cautions(speaker, start),
        "next": _next(speaker, folder),
    }
    text = _json(folder, start, said) if as_json else _report(speaker, folder, start, said)
    exchange.write_folder(target, evidence)
    click.echo(text, nl=False)


def _target(folder: Path) -> Path:
    """The folder, with a name of its own. Raises `FolderError` for the one we stand in, which cannot be made anew."""
    target = folder.resolve() if folder.name in ("", "..") else folder
    if target.resolve() in (here := Path.cwd().resolve(), *here.parents):
        raise FolderError(
            "a batch wants a folder of its own", given=str(folder), allowed="a new name, such as spring-hens"
        )
    return target


def _start(target: Path, given: dict[str, Any]) -> "Start":
    from chalaza import facts
    from chalaza.exchange import Start
    from chalaza.exchange.begin import BOX, slug

    kind = facts.kind(given["kind_name"])
    zone, _ = zone_of(given["zone"])
    set_at = moment_in(given["set_text"], zone)
    first, last = (None, None) if given["laid"] is None else stored(days_in(given["laid"], zone), set_at, zone)
    if given["wanted"] is not None and given["wanted"] > given["eggs"]:
        raise EvidenceError(
            f"{given['wanted']} young cannot come out of {given['eggs']} eggs; --wanted is the young hoped for"
        )
    name = (given["name"] or "").strip() or target.name
    return Start(
        uid=slug(target.name, "batch"),
        name=name, kind=kind.key, eggs=given["eggs"], set_at=set_at, zone=zone,
        parents=(given["parents"] or "").strip() or name,
        box=(given["box"] or "").strip() or BOX,
        airflow=Airflow(given["airflow"] or Airflow.FAN),
        probe=ProbeSort(given["probe"] or ProbeSort.DISPLAY),
        height_mm=None if given["height"] is None else measure(given["height"], q.HEIGHT_MM),
        altitude_m=0.0 if given["altitude"] is None else measure(given["altitude"], q.ALTITUDE_M),
        wanted=given["wanted"], laid_first=first, laid_last=last, posted=given["posted"],
        counted=not given["one_by_one"],
    )  # fmt: skip


# What is said -----------------------------------------------------------------------------------------------------


def _taken(speaker: Voice, start: "Start", given: dict[str, Any]) -> tuple[Said, ...]:
    """What nobody said, in the order of the tables; the plans of the kind with their sources."""
    own = {
        "zone": ("batch.csv", "zone", mark("The zone is {zone}: this computer's clock says so.")),
        "name": ("batch.csv", "name", mark("The batch is called {name}, like its folder.")),
        "altitude": ("place.csv", "altitude_m", mark("The box stands at sea level. That is a guess.")),
        "box": (
            "machines.csv",
            "uid",
            mark("The box is called {box}. Learning goes by names: call a second one otherwise."),
        ),
        "airflow": ("machines.csv", "airflow", mark("A fan moves the air. That is a guess.")),
        "probe": ("probes.csv", "sort", mark("You read the display of the box. That is a guess.")),
        "parents": ("lots.csv", "parents", mark("The parents are called {parents}, like the batch.")),
        "posted": ("lots.csv", "origin", mark("The eggs are your own, laid at this altitude.")),
    }
    holes = {"zone": start.zone, "name": start.name, "parents": start.parents, "box": start.box}
    rows = [
        Said(file=file, column=column, words=speaker.say(text, holes))
        for key, (file, column, text) in own.items()
        if not given[key]
    ]
    return (*_plans(speaker, start), *rows)


def _plans(speaker: Voice, start: "Start") -> tuple[Said, ...]:
    from chalaza import facts
    from chalaza.words.begin import plans

    return tuple(
        Said(file="batch.csv", column=one.column, words=one.words, sources=one.sources)
        for one in plans(speaker, facts.kind(start.kind), start.airflow)
    )


def _asked(speaker: Voice, start: "Start") -> tuple[Said, ...]:
    """What is worth finding out, and why."""
    from chalaza.words.begin import asked

    return tuple(
        Said(file="mounts.csv" if one.column == "height_mm" else "lots.csv", column=one.column, words=one.words,
             sources=one.sources)
        for one in asked(speaker, start.airflow, start.height_mm, start.laid_first)
    )  # fmt: skip


def _cautions(speaker: Voice, start: "Start") -> tuple[str, ...]:
    from chalaza import facts
    from chalaza.words.begin import minded
    from chalaza.words.cautions import cautions

    return cautions(speaker, minded(facts.kind(start.kind), posted=start.posted))


def _next(speaker: Voice, folder: Path) -> tuple[tuple[str, str], ...]:
    """What to do now: the act, and the command for it."""
    name = shlex.quote(str(folder))
    return (
        (speaker.say(mark("Weigh the eggs. Write it into weighings.csv, a row for each reading of the scale.")), ""),
        (speaker.say(mark("Bring in the file of your logger.")), f"chalaza read LOG --into {name}"),
        (speaker.say(mark("Ask what to do.")), f"chalaza assess {name}"),
    )


def _report(speaker: Voice, folder: Path, start: "Start", said: dict[str, Any]) -> str:
    t = Terminal.here()
    parts = [_heading(speaker, folder, start, t), _taken_lines(speaker, said["taken"], t)]
    if said["asked"]:
        parts.append(_cells(speaker.say(mark("ask")), said["asked"], t))
    *before, always = said["cautions"]
    parts.append(_listed(speaker.say(mark("care")), before, t))
    parts.append(_next_lines(speaker, said["next"], t))
    parts.append(t.wrapped(always, t.axis))
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _heading(speaker: Voice, folder: Path, start: "Start", t: Terminal) -> list[str]:
    from chalaza import facts
    from chalaza.exchange.begin import label_of

    kind = speaker.language.gettext(facts.kind(start.kind).name)
    eggs = speaker.language.ngettext("{n} egg: {kind}.", "{n} eggs: {kind}.", start.eggs)
    holes = {
        "set": numbers.moment(speaker, start.set_at, year=True),
        "zone": start.zone,
        "folder": str(folder),
        "last": label_of(start.eggs - 1),
    }
    labels = (
        mark("They are counted, in one row of eggs.csv.") if start.counted
        else mark("On the egg: A1.") if start.eggs == 1
        else mark("On the shells: A1 to {last}, six to a row.")
    )  # fmt: skip
    return [
        *(t.strong(line) for line in t.wrapped(start.name, t.axis)),
        *t.wrapped(eggs.format(n=start.eggs, kind=kind), t.axis),
        *t.wrapped(speaker.say(labels, holes), t.axis),
        *t.wrapped(speaker.say(mark("Set {set} ({zone})."), holes), t.axis),
        *t.wrapped(speaker.say(mark("The folder is {folder}."), holes), t.axis),
    ]


def _taken_lines(speaker: Voice, rows: tuple[Said, ...], t: Terminal) -> list[str]:
    text = mark("This nobody said. It stands in the folder so; change there what is wrong.")
    return [*t.hung(speaker.say(mark("taken")), speaker.say(text)), *_cells("", rows, t)]


def _cells(margin: str, rows: tuple[Said, ...], t: Terminal) -> list[str]:
    """Each thing said with its place in the folder, and below it who says so."""
    out: list[str] = []
    for row in rows:
        out += t.hung(margin if not out else "", f"{row.words} [{row.file}, {row.column}]")
        for source in row.sources:
            out += t.wrapped(f"{source.cite} ({source.status})", t.axis + 2)
    return out


def _listed(margin: str, texts: list[str], t: Terminal) -> list[str]:
    return [line for i, text in enumerate(texts) for line in t.hung(margin if i == 0 else "", text)]


def _next_lines(speaker: Voice, steps: tuple[tuple[str, str], ...], t: Terminal) -> list[str]:
    out: list[str] = []
    for i, (act, line) in enumerate(steps):
        out += t.hung(speaker.say(mark("next")) if i == 0 else "", act)
        out += [" " * (t.axis + 2) + t.shown(line)] if line else []
    return out


def _json(folder: Path, start: "Start", said: dict[str, Any]) -> str:
    from dataclasses import asdict

    from chalaza.words.jsonable import plain_spaces

    head = {
        "folder": str(folder),
        "batch": start.uid,
        "name": start.name,
        "kind": start.kind,
        "eggs": start.eggs,
        "set_at": datetime.fromtimestamp(start.set_at, ZoneInfo(start.zone)).isoformat(),
        "zone": start.zone,
    }
    told = {
        "taken": [asdict(row) for row in said["taken"]],
        "ask": [asdict(row) for row in said["asked"]],
        "cautions": list(said["cautions"]),
        "next": [{"do": act, "command": line or None} for act, line in said["next"]],
    }
    return json.dumps(head | plain_spaces(told), ensure_ascii=False, indent=2) + "\n"
