"""The first look at a file: its open questions with every way of reading it, worked out on the first bytes.

Each question is put with the file as it reads under each answer, so that both can be shown side by side. What was
answered already stays answered; what hangs on an unanswered question is shown as its likelier way has it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType
from zoneinfo import ZoneInfo

from chalaza.errors import ReadingError
from chalaza.intake import likely
from chalaza.intake.dates import iso
from chalaza.intake.likely import Spans, Verdict
from chalaza.intake.questions import Question
from chalaza.intake.reader import Reading, read
from chalaza.intake.report import Statistics

#: So much of a file is looked at before anything is stored.
HEAD_BYTES = 64 * 1024
#: Questions about when, by the first part of their code; the others are about figures.
TIMES = ("date-order", "clock-reset", "serial-epoch", "elapsed-unit", "start")
#: A clock that is named after a place follows its seasons; one that does not is another answer to the same question.
FOLLOWS: Mapping[str, str] = MappingProxyType({"clock-change": "follows"})
_MOST = 12
_READS_AS = "  reads as  "


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to answer: the key, what it says, examples (printed, as read), and the file as it reads then, if it does."""

    key: str
    words: str
    examples: tuple[tuple[str, str], ...]
    reading: Reading | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """An open question with its ways; `chosen`: what was answered or, for one that does not block, is taken meanwhile."""

    code: str
    words: str
    ways: tuple[Way, ...]
    blocking: bool
    free: str
    likely: Verdict
    chosen: str

    @property
    def stem(self) -> str:
        """The code without the number of its column."""
        return self.code.partition(":")[0]

    @property
    def column(self) -> int | None:
        """The column it is about, counted from 1."""
        number = self.code.partition(":")[2]
        return int(number) if number.isdigit() else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """A file as far as it was looked at. `reading` has the answers given, else the likelier ones; `zones`: the clock."""

    reading: Reading
    asks: tuple[Ask, ...]
    settled: Mapping[str, str]

    @property
    def left(self) -> tuple[Ask, ...]:
        """Questions that must be answered and are not."""
        return tuple(ask for ask in self.asks if ask.blocking and not ask.chosen)


def preview(
    head: bytes, said: Mapping[str, str], zone: str, now: int, batches: Spans = (), *, decided: frozenset[str] = frozenset()
) -> Preview:  # fmt: skip
    """Look at the first bytes of a file. `said`: answers given; `zone`: of its clock; `decided`: what the rest settles.

    Raises `ReadingError` where nothing can be read, or an answer is none.
    """
    settled: dict[str, str] = dict(FOLLOWS)
    asks: list[Ask] = []
    for _ in range(_MOST):
        reading = read(head, answers=settled, zone=zone)
        question = next(
            (one for one in reading.report.questions if one.code not in settled and one.code != "zone"), None
        )
        if question is None:
            break
        ask = _ask(head, question, settled, said, zone, now, batches)
        settled[question.code] = ask.chosen or ask.likely.key or _first(question, now)
        if question.code not in decided:
            asks.append(ask)
    return Preview(reading=reading, asks=tuple(asks), settled=settled)


def _first(question: Question, now: int) -> str:
    """What is shown while nothing speaks for any answer."""
    if question.free and not any(option.key for option in question.options):
        return iso(now)
    return question.options[0].key


def _ask(
    head: bytes, question: Question, settled: Mapping[str, str], said: Mapping[str, str], zone: str, now: int,
    batches: Spans,
) -> Ask:  # fmt: skip
    """A question with each of its ways read."""
    ways = tuple(
        Way(
            key=option.key, words=option.words, examples=tuple(pair(line) for line in option.preview),
            reading=_read(head, {**settled, question.code: option.key}, zone) if option.key else None,
        )
        for option in question.options
    )  # fmt: skip
    given = said.get(question.code, "")
    allowed = {way.key for way in ways if way.key}
    if given and allowed and given not in allowed and not question.free:
        raise ReadingError(f"{given!r} is no answer to {question.code!r}; allowed: {', '.join(sorted(allowed))}")
    return Ask(
        code=question.code, words=question.words, ways=ways, blocking=question.blocking, free=question.free,
        likely=_verdict(question.code, ways, now, batches), chosen=given or question.taken,
    )  # fmt: skip


def pair(line: str) -> tuple[str, str]:
    """An example of the reader as what is printed and what it is read as."""
    printed, _, found = line.partition(_READS_AS)
    return printed, found


def _read(head: bytes, answers: Mapping[str, str], zone: str) -> Reading | None:
    try:
        return read(head, answers=answers, zone=zone)
    except ReadingError:
        return None


def _verdict(code: str, ways: Sequence[Way], now: int, batches: Spans) -> Verdict:
    stem, _, column = code.partition(":")
    if stem in TIMES:
        return likely.of_times({way.key: likely.moments(way.reading) for way in ways}, now, batches)
    if not column.isdigit():
        return _by_any(ways)
    found = {way.key: figures(way.reading, int(column)) for way in ways}
    humid = [of_humidity(way.reading, int(column)) for way in ways if way.reading is not None]
    return Verdict() if len(set(humid)) > 1 else likely.of_figures(found, bool(humid and humid[0]))


def _by_any(ways: Sequence[Way]) -> Verdict:
    """Of a question about the whole file: by the warmest column that each way gives."""
    found = {}
    for way in ways:
        columns = [] if way.reading is None else way.reading.report.columns
        inside = [one.inside for one in columns if one.quantity == "temperature" and one.inside is not None]
        found[way.key] = max(inside, key=lambda one: one.mean or 0.0, default=None)
    return likely.of_figures(found, humidity=False)


def figures(reading: Reading | None, column: int) -> Statistics | None:
    """Least, greatest and mean of a column (from 1) in the units inside; None where it is no reading."""
    found = None if reading is None else next((one for one in reading.report.columns if one.number == column), None)
    return None if found is None or found.quantity not in ("temperature", "rh") else found.inside


def of_humidity(reading: Reading, column: int) -> bool:
    """Whether a column (from 1) was read as humidity."""
    return any(one.number == column and one.quantity == "rh" for one in reading.report.columns)


def clocks(head: bytes, settled: Mapping[str, str], zones: Sequence[str], chosen: str, now: int) -> Ask | None:
    """The question which clock the logger had, each zone read; None where the file says it itself.

    A named zone is a clock that is set back and forth; one that stayed on the offset of its first row is offered too.
    Zones that give the same moments are one: the first of them stands.
    """
    ways: list[Way] = []
    seen: list[list[int]] = []
    wanted, doubtful = list(zones), False
    while wanted:
        zone = wanted.pop(0)
        reading = _read(head, settled, zone)
        if reading is None or reading.report.zone != zone or not reading.report.shown:
            continue
        at = [one.at for one in reading.report.shown]
        if at not in seen:
            seen.append(at)
            ways.append(Way(key=zone, words=zone, examples=(), reading=reading))
        if len(ways) == 1 and zone[:1] not in "+-":
            doubtful = "clock-change" in reading.report.answered
            wanted.insert(1, _offset(zone, at[0]))
    if not ways:
        return None
    return Ask(
        code="zone", words="", ways=tuple(ways), blocking=True, free="zone", chosen=chosen,
        likely=_likelier_clock(ways, doubtful, now),
    )  # fmt: skip


def _likelier_clock(ways: Sequence[Way], doubtful: bool, now: int) -> Verdict:
    """The first clock that puts no reading after this moment; not one that is set back and forth where hours do not fit."""
    moments = {way.key: likely.moments(way.reading) for way in ways}
    verdict = likely.of_times(moments, now, ())
    if verdict.code == "future":
        return verdict
    if doubtful and len(ways) > 1:
        return Verdict(ways[1].key, "fits")
    return Verdict(ways[0].key, "usual")


def _offset(zone: str, at: int) -> str:
    """The offset of a zone at a moment, written as one."""
    offset = datetime.fromtimestamp(at, UTC).astimezone(ZoneInfo(zone)).utcoffset()
    minutes = int(offset.total_seconds()) // 60 if offset is not None else 0
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def settled_by_the_rest(spread: bytes, asks: Sequence[Ask], zone: str) -> Mapping[str, str]:
    """Of questions the first bytes leave open: those that lines from all over the file settle, and how.

    `spread`: the head and whole lines from the rest. A question it does not ask any more is answered by the file itself;
    how, is seen on the first row, which both have.
    """
    open_ = [ask for ask in asks if ask.blocking]
    if not open_:
        return {}
    try:
        whole = read(spread, zone=zone)
    except ReadingError:
        return {}
    still = {question.code for question in whole.report.questions if question.blocking}
    found = {}
    for ask in open_:
        if ask.code not in still and whole.report.shown:
            same = [way.key for way in ask.ways if _agrees(way.reading, whole, ask.column)]
            if len(same) == 1:
                found[ask.code] = same[0]
    return found


def _agrees(way: Reading | None, whole: Reading, column: int | None) -> bool:
    """Whether the first row is at the same moment, and the column in the same unit, in both."""
    if way is None or not way.report.shown:
        return False
    if column is None:
        return way.report.shown[0].at == whole.report.shown[0].at
    units = [next((one.unit for one in each.report.columns if one.number == column), None) for each in (way, whole)]
    return units[0] == units[1]
