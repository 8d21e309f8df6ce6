"""`chalaza facts`: what is known about a kind of bird, figure by figure, with sources and how far each was checked."""

import json
from collections.abc import Iterable
from dataclasses import asdict
from itertools import groupby

import click

from chalaza.cli.options import json_option, reading_options, voice
from chalaza.cli.terminal import Terminal
from chalaza.words.basis import STATUS_MEANS, STATUSES
from chalaza.words.fact_names import PUBLISHED
from chalaza.words.facts import GROUPS, Fact, known, span_words, spans
from chalaza.words.jsonable import plain_spaces
from chalaza.words.language import mark
from chalaza.words.numbers import NB, Voice

#: Most cells a name may take before its figure goes on a line of its own.
_NAME_CELLS = 44


@click.command("facts", short_help="What is known about a kind of bird, with sources.")
@click.argument("kind", required=False)
@json_option
@reading_options
def command(kind: str | None, as_json: bool, units: str, language_name: str) -> None:
    """What is known about a kind of bird, with sources.

    KIND is a name such as hen, duck or "guinea fowl". Without it the kinds are listed.

    \b
    Examples:
      chalaza facts
      chalaza facts duck
      chalaza facts coturnix --units us
      chalaza facts goose --json

    Each figure has its range in brackets, the numbers of its sources, and how far it was checked. Where sources disagree
    the whole range is shown first, then what each one says.
    """
    speaker = voice(units, language_name)
    if kind is None:
        click.echo(_kinds_json() if as_json else _kinds(speaker, Terminal.here()), nl=False)
        return
    rows = known(speaker, kind)
    click.echo(_json(kind, rows) if as_json else _report(speaker, kind, rows, Terminal.here()), nl=False)


def _kinds_json() -> str:
    from chalaza import facts

    rows = [
        {"kind": one.key, "name": one.name, "scientific_name": one.scientific_name, "group": one.group,
         "also": list(one.aliases), "term_d": one.term_d.typical}
        for one in facts.kinds().values()
    ]  # fmt: skip
    return json.dumps(rows, ensure_ascii=False, indent=2) + "\n"


def _kinds(speaker: Voice, t: Terminal) -> str:
    from chalaza import facts

    found = facts.kinds().values()
    column = max(len(one.key) for one in found) + 2
    out: list[str] = []
    for one in found:
        days = speaker.language.ngettext("{n} day", "{n} days", round(one.term_d.typical))
        text = (
            f"{speaker.language.gettext(one.name)} ({one.scientific_name}), {days.format(n=f'{one.term_d.typical:g}')}"
        )
        first, *rest = t.wrapped(text, column)
        out += [t.strong(one.key) + " " * (column - len(one.key)) + first[column:], *rest]
    tail = speaker.say(mark("More about one of them: chalaza facts KIND."))
    return "\n".join([*out, "", t.shown(tail)]) + "\n"


def _json(kind: str, rows: Iterable[Fact]) -> str:
    from chalaza import facts

    found = facts.kind(kind)
    listed = [plain_spaces(asdict(row)) for row in rows]
    published = {key: {"low": low, "high": high, "sources": n} for key, (low, high, n) in spans(rows).items()}
    head = {"kind": found.key, "name": found.name, "scientific_name": found.scientific_name}
    return json.dumps({**head, "published_range": published, "facts": listed}, ensure_ascii=False, indent=2) + "\n"


class _Numbers:
    """Sources in the order they are met, each with its number."""

    def __init__(self) -> None:
        self.order: dict[str, str] = {}

    def of(self, row: Fact) -> str:
        for source in row.sources:
            self.order.setdefault(source.key, f"{source.cite} ({source.status})")
        at = list(self.order)
        return "[" + ", ".join(str(at.index(source.key) + 1) for source in row.sources) + "]"


def _report(speaker: Voice, kind: str, rows: tuple[Fact, ...], t: Terminal) -> str:
    from chalaza import facts

    found = facts.kind(kind)
    refs = _Numbers()
    parts = [[t.strong(t.shown(f"{speaker.language.gettext(found.name)} ({found.scientific_name})"))]]
    for group, members in groupby(rows, key=lambda row: row.group):
        lines = [t.strong(t.shown(speaker.say(GROUPS[group])))]
        if group == "published":
            lines += _published(speaker, tuple(members), t, refs)
        else:
            lines += [line for row in members for line in _fact(speaker, row, row.words, t, refs)]
        parts.append(lines)
    parts.append([t.strong(t.shown(speaker.say(mark("Sources")))), *_sources(refs, t)])
    parts.append([t.shown(speaker.say(meaning)) for meaning in STATUS_MEANS.values()])
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _fact(speaker: Voice, row: Fact, name: str, t: Terminal, refs: _Numbers) -> list[str]:
    """Name and figure in two columns, then status and sources; a note below."""
    column = min(_NAME_CELLS, t.width // 2)
    tail = _standing(speaker, row, refs)
    figure = f"{row.figure}  {tail}" if row.figure else tail
    names, figures = t.wrapped(name, 2), t.wrapped(figure, column)
    if len(names[-1]) >= column - 1:
        names.append("")
    beside = [names[-1].ljust(column) + figures[0][column:], *figures[1:]]
    notes = t.wrapped(row.note, 6) if row.note else []
    return [*names[:-1], *beside, *notes]


def _standing(speaker: Voice, row: Fact, refs: _Numbers) -> str:
    """How far a figure was checked and the numbers of its sources, kept together on a line."""
    return f"{speaker.say(STATUSES[row.status])} {refs.of(row)}".replace(" ", NB)


def _published(speaker: Voice, rows: tuple[Fact, ...], t: Terminal, refs: _Numbers) -> list[str]:
    """Each matter with the range over all sources, then what each source says."""
    out: list[str] = []
    whole = spans(rows)
    for quantity, members in groupby(rows, key=lambda row: row.quantity):
        low, high, n = whole[quantity]
        holes = {"matter": speaker.say(PUBLISHED[quantity].words), "span": span_words(speaker, quantity, low, high)}
        text = speaker.language.ngettext("{matter}: {span}", "{matter}: {span}, by {n} voices", n)
        out += t.wrapped(text.format(n=n, **holes), 2)
        for row in members:
            figure = f"{row.figure}  {row.note}  {_standing(speaker, row, refs)}"
            out += t.wrapped(figure, 6)
    return out


def _sources(refs: _Numbers, t: Terminal) -> list[str]:
    out: list[str] = []
    for number, text in enumerate(refs.order.values(), start=1):
        first, *rest = t.wrapped(text, 6)
        out += [f"[{number}]".ljust(6) + first[6:], *rest]
    return out
