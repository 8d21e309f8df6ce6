"""An assessment as text for a terminal: what to do first, then the four answers, then what to measure next."""

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from chalaza.cli.reach import THIRD, reach
from chalaza.cli.terminal import Terminal
from chalaza.values.advice import Level
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Basis
from chalaza.words import advice as advice_words
from chalaza.words import measures, numbers
from chalaza.words.answers import Answered, Line, answered
from chalaza.words.basis import explain
from chalaza.words.cautions import ALWAYS, caution
from chalaza.words.events import QUESTIONS
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

#: How much is asked, as strokes: a dash, one, two, and a struck bundle.
TALLIES: Mapping[Level, str] = MappingProxyType({Level.GOOD: "─", Level.WATCH: "│", Level.ACT: "││", Level.NOW: "╫╫"})
#: Cells a figure wants beside its label; with less room it goes on a line of its own.
_FIGURE_CELLS = 30
#: Checks offered at most.
_OFFERS = 3


def report(voice: Voice, a: Assessment, t: Terminal, *, why: bool = False, notices: Iterable[str] = ()) -> str:
    """The whole text. `notices` stand below the heading: what the reader must know before believing the rest."""
    voice = voice.of(a.zone, a.set_at)
    seen: set[str] = set()
    parts = [
        _heading(voice, a, t),
        [line for notice in notices for line in t.hung(voice.say(mark("note")), notice)],
        _advice(voice, a, t, seen),
        *(_answer(voice, a, one, t, why) for one in answered(voice, a)),
        _next(voice, a, t, seen),
        t.wrapped(caution(voice, ALWAYS), t.axis),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _heading(voice: Voice, a: Assessment, t: Terminal) -> list[str]:
    eggs = voice.language.ngettext("{n} egg: {kind}.", "{n} eggs: {kind}.", a.count.set)
    holes = {
        "set": numbers.moment(voice, a.set_at, year=True),
        "now": numbers.moment(voice, a.as_of, year=True),
        "day": numbers.number(a.clock.day, 1),
        "term": numbers.number(a.clock.term_d, 0),
        "zone": a.zone,
    }
    return [
        *(t.strong(line) for line in t.wrapped(a.name or a.batch, t.axis)),
        *t.wrapped(eggs.format(n=a.count.set, kind=voice.language.gettext(a.kind_name)), t.axis),
        *t.wrapped(voice.say(mark("Set {set}."), holes), t.axis),
        *t.wrapped(
            voice.say(mark("As of {now} ({zone}): day {day}, the first being 0; the term is {term} days."), holes),
            t.axis,
        ),
    ]


def _advice(voice: Voice, a: Assessment, t: Terminal, seen: set[str]) -> list[str]:
    out: list[str] = []
    for one in a.advice:
        said = advice_words.say(voice, one)
        out += t.hung(f"{TALLIES[one.level].ljust(2)} {said.level}", said.do, strong=one.level >= Level.ACT)
        out += t.hung(voice.say(mark("   because")), said.because)
        out += _care(voice, said.cautions, t, seen)
        out.append("")
    return out[:-1]


def _care(voice: Voice, keys: Iterable[str], t: Terminal, seen: set[str]) -> list[str]:
    """Cautions where the act is, each once in a report."""
    new = [key for key in dict.fromkeys(keys) if key not in seen]
    seen.update(new)
    return [line for key in new for line in t.hung(voice.say(mark("   care")), caution(voice, key))]


def _answer(voice: Voice, a: Assessment, one: Answered, t: Terminal, why: bool) -> list[str]:
    out = t.hung(voice.say(QUESTIONS[one.question]), one.sentence, strong=True)
    column = t.axis + max(len(line.label) for line in one.lines) + 2
    for line in one.lines:
        out += _figure(line, t, column)
    return out + (_why(voice, one, t) if why else [])


def _figure(line: Line, t: Terminal, column: int) -> list[str]:
    """Label and figure, and below them the reach with what was wanted."""
    if column + _FIGURE_CELLS > t.width:
        column = t.axis + 2
        out = [*t.wrapped(line.label, t.axis), *t.wrapped(line.figure, column)]
    else:
        first, *rest = t.wrapped(line.figure, column)
        out = [" " * t.axis + t.shown(line.label).ljust(column - t.axis) + first[column:], *rest]
    if line.of is None or line.band is None:
        return out
    third = max(5, min(THIRD, (t.width - column) // 3 - 1))
    bar = reach(line.of, line.band, least=line.least, third=third)
    room = t.width - column - 3 * third - 4
    beside = len(line.wanted) <= room
    padded = bar.ljust(3 * third + 4) + line.wanted if beside else bar
    out.append(" " * column + t.shown(padded).rstrip())
    return out if beside else [*out, *t.wrapped(line.wanted, column)]


def _why(voice: Voice, one: Answered, t: Terminal) -> list[str]:
    """Where the figures come from: each method once, with its records and sources."""
    out: list[str] = []
    done: set[Basis] = set()
    for line in one.lines:
        if line.of is None or line.of.basis in done:
            continue
        done.add(line.of.basis)
        found = explain(voice, line.of.basis)
        holes = {"label": line.label, "method": found.method, "records": ", ".join(found.inputs)}
        text = mark("{label}: {method}. Records: {records}.") if found.inputs else mark("{label}: {method}.")
        out += t.hung(voice.say(mark("   why")) if not out else "", voice.say(text, holes))
        for source in found.sources:
            out += t.wrapped(f"{source.cite} ({source.status})", t.axis + 2)
    return out


def _next(voice: Voice, a: Assessment, t: Terminal, seen: set[str]) -> list[str]:
    """The checks worth making, best first; those that would change no printed range are left out."""
    offers = [measures.say(voice, one) for one in a.measure_next]
    worth = [one for one in offers if one.narrows][:_OFFERS]
    out: list[str] = []
    for one in worth:
        lead = voice.say(mark("{do} {time}"), {"do": one.do, "time": one.time})
        out += t.hung(voice.say(mark("Measure")) if not out else "", lead, strong=not out)
        out += [line for sentence in (*one.narrows, one.how) for line in t.wrapped(sentence, t.axis)]
        out += _care(voice, one.cautions, t, seen)
        out.append("")
    return out[:-1]
