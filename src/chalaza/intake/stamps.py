"""Stamps of time as printed: what each figure of a stamp means, for one look at a time.

`plan` reads the look of a stamp (digits as `0`) once and says where day, month, year, hour ... stand; `StampColumn`
applies the plan to all cells of that look. The order of day and month is not decided here: the three numbers of a
numeric date are kept as printed, `dates.decide` orders them from the whole file.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from chalaza.intake.shapes import BLANKS, Bytes, Index, figure, gather, shape, take
from chalaza.intake.vocabulary import HALVES, MONTHS, ZONES, fold

#: Kinds of date in a cell.
NO_DATE, LAST_IS_YEAR, ALL_SHORT, KNOWN = 0, 1, 2, 3
NO_TIME = -1
NO_OFFSET = 32767
MAX_STAMP = 60

_WORD = rb"(?:[A-Za-z]|[\xc2-\xf4][\x80-\xbf]+)+"
_ZONE = rb"(?:\s?(?P<zone>[A-Z]{1,4})?\s?(?P<sign>[+-])(?P<zh>0{1,2}):?(?P<zm>00)?|\s?(?P<abbr>Z|[A-Z]{3,4}))"
_HALF = rb"(?P<half>[aApP]\.?\s?[mM]\.?|vorm\.?|nachm\.?)"
_CJK_HALF = "(?P<cjk>上午|下午|午前|午後|오전|오후)".encode()
_TIME = (
    rb"(?:"
    + _CJK_HALF
    + rb"\s?)?(?P<h>0{1,2})(?:[:.hH](?P<mi>00)(?:[:.m'](?P<s>00)(?:[.,:](?P<fr>0{1,9}))?)?(?:s|\")?)\s*"
    + rb"(?:"
    + _HALF
    + rb")?"
)
_JOINED_TIME = rb"(?P<h>00):?(?P<mi>00)(?::?(?P<s>00)(?:[.,](?P<fr>0{1,9}))?)?"
_DATES = (
    rb"(?P<a>0{1,4})(?P<sep>[./-])\s?(?P<b>0{1,2})(?P=sep)\s?(?P<c>0{4}|0{1,2})\.?",
    rb"(?P<d>0{1,2})(?:st|nd|rd|th|\.)?[\s/.-]?\s?(?:de\s)?(?P<name>"
    + _WORD
    + rb")\.?,?[\s/.-]?\s?(?:de\s)?(?P<y>0000|00)",
    rb"(?P<name>" + _WORD + rb")\.?[\s-](?P<d>0{1,2})(?:st|nd|rd|th)?,?[\s-](?P<y>0000)",
    rb"(?P<y>0000)[\s/.-](?P<name>" + _WORD + rb")\.?[\s/.-](?P<d>0{1,2})",
    "(?P<y>0000)[年년]\\s?(?P<m>0{1,2})[月월]\\s?(?P<d>0{1,2})[日일]".replace("[年년]", "(?:年|년)")
    .replace("[月월]", "(?:月|월)")
    .replace("[日일]", "(?:日|일)")
    .encode(),
    rb"(?P<y>0000)(?P<m>00)(?P<d>00)",
)
_BETWEEN = rb"(?:\s?[T,;_|]\s?|\s+-\s+|\s+|-)"
_DAY_NAME = rb"(?:(?i:mon|tue|wed|thu|fri|sat|sun|lun|mar|mer|jeu|ven|sam|dim|mo|di|mi|do|fr|sa|so)[a-z]*\.?,?\s)?"


def _compile() -> list[re.Pattern[bytes]]:
    zone = rb"(?:" + _ZONE + rb")?"
    forms = [_TIME.replace(b"[:.hH]", b"[:hH]") + zone]  # alone, 23.50 is a number
    for date in _DATES:
        forms.append(_DAY_NAME + date + _BETWEEN + _TIME + zone)
        forms.append(_DAY_NAME + date)
        forms.append(_TIME + rb"(?:\s?[,;]?\s?)" + date)
    forms.append(_DATES[0] + rb"[T ]" + _JOINED_TIME + zone)
    forms.append(_DATES[-1] + rb"[T _-]?" + _JOINED_TIME + zone)
    forms.append(rb"(?:[A-Za-z]{3}\s)?(?P<name>[A-Za-z]{3})\s{1,2}(?P<d>0{1,2})\s" + _TIME + rb"\s(?P<y>0000)")
    return [re.compile(form) for form in forms]


_FORMS = _compile()
_FIGURES = ("a", "b", "c", "y", "m", "d", "h", "mi", "s", "zh", "zm")


@dataclass(frozen=True, slots=True)
class Plan:
    """Where the figures of one look stand: name of a figure -> (from, to); what its words say."""

    look: bytes
    spans: tuple[tuple[str, int, int], ...]
    kind: int
    month: int = 0
    half: int = -1
    offset_sign: int = 0
    offset: int = NO_OFFSET
    zone: str = ""


@lru_cache(maxsize=4096)
def plan(look: bytes) -> Plan | None:
    """How to read a stamp of this look (digits as `0`, words as they are); None when it is no stamp."""
    if not 4 <= len(look) <= MAX_STAMP or b"0" not in look:
        return None
    for form in _FORMS:
        found = form.fullmatch(look)
        if found is not None and (made := _planned(look, found)) is not None:
            return made
    return None


def _planned(look: bytes, found: re.Match[bytes]) -> Plan | None:
    groups = {name: text for name, text in found.groupdict().items() if text is not None}
    spans = tuple((name, *found.span(name)) for name in _FIGURES if name in groups)
    kind, month = NO_DATE, 0
    if "a" in groups:
        first, last = len(groups["a"]), len(groups["c"])
        if (first > 2) == (last > 2) and first > 2:
            return None
        if first == 3:
            return None
        kind = KNOWN if first == 4 else LAST_IS_YEAR if last == 4 else ALL_SHORT
    elif "d" in groups:
        kind = KNOWN
        if "name" in groups:
            month = MONTHS.get(fold(groups["name"].decode("utf-8", "replace")), 0)
            if not month:
                return None
    word = groups.get("half") or groups.get("cjk") or b""
    half = HALVES.get(re.sub(r"[\s.]", "", fold(word.decode("utf-8"))), -1) if word else -1
    zone = (groups.get("abbr") or groups.get("zone") or b"").decode()
    sign = {b"+": 1, b"-": -1}.get(groups.get("sign", b""), 0)
    offset = ZONES.get(zone.casefold(), NO_OFFSET) if zone and not sign else NO_OFFSET
    return Plan(look, spans, kind, month, half, sign, offset, zone)


@dataclass(slots=True)
class StampColumn:
    """The stamps of one column, one entry a line. `a b c` are the numbers of a date as printed (KNOWN: year month day)."""

    kind: npt.NDArray[np.int8]
    a: npt.NDArray[np.int16]
    b: npt.NDArray[np.int16]
    c: npt.NDArray[np.int16]
    second: npt.NDArray[np.int32]
    offset: npt.NDArray[np.int16]
    filled: npt.NDArray[np.bool_]
    halves: bool = False
    fractions: bool = False
    hours_over: bool = False
    zone: str = ""

    @classmethod
    def empty(cls, lines: int) -> "StampColumn":
        """A column for `lines` lines without a stamp in any."""
        return cls(
            np.zeros(lines, np.int8),
            np.zeros(lines, np.int16),
            np.zeros(lines, np.int16),
            np.zeros(lines, np.int16),
            np.full(lines, NO_TIME, np.int32),
            np.full(lines, NO_OFFSET, np.int16),
            np.zeros(lines, np.bool_),
        )

    def put(self, lines: Index | slice, window: Bytes, start: Index, end: Index) -> None:
        """Read the cells `window[start:end]` into the entries `lines`."""
        length = end - start
        self.filled[lines] = length > 0
        if len(length) and 4 <= length[0] <= MAX_STAMP and bool((length == length[0]).all()):
            look = shape(bytes(window[start[0] : end[0]]))
            digits, fits = take(window, start, look)
            if fits is None:
                self._apply(plan(look), lines, digits)
                return
        if isinstance(lines, slice):
            lines = np.arange(lines.start, lines.stop)
        todo = np.flatnonzero((length >= 4) & (length <= MAX_STAMP))
        for _ in range(6):
            if not len(todo):
                return
            look = shape(bytes(window[start[todo[0]] : end[todo[0]]]))
            alike = length[todo] == len(look)
            rows = todo if alike.all() else todo[alike]
            digits, fits = take(window, start[rows], look)
            if fits is not None:
                rows, digits = rows[fits], digits[fits]
            self._apply(plan(look), lines[rows], digits)
            if len(rows) == len(todo):
                return
            left = np.ones(len(length), np.bool_)
            left[rows] = False
            todo = todo[left[todo]]
        self._rest(lines, window, start, end, todo)

    def _rest(self, lines: Index, window: Bytes, start: Index, end: Index, todo: Index) -> None:
        """Columns of many looks (months by name, hours of one figure): sort the cells by look, then as before."""
        groups: dict[bytes, list[int]] = {}
        for row in todo.tolist():
            raw = bytes(window[start[row] : end[row]])
            groups.setdefault(shape(raw), []).append(row)
        for look, members in groups.items():
            if (made := plan(look)) is not None:
                rows = np.array(members, np.int64)
                base = np.frombuffer(look, np.uint8)
                self._apply(made, lines[rows], gather(window, start[rows], len(look)) ^ base)

    def _apply(self, made: Plan | None, lines: Index | slice, digits: Bytes) -> None:
        if made is None or not len(digits):
            return
        places = np.ascontiguousarray(digits.T)
        part = {name: figure(places, low, high) for name, low, high in made.spans}
        self._dates(made, lines, part)
        self._times(made, lines, part)
        if made.offset_sign:
            minutes = made.offset_sign * (part["zh"] * 60 + part.get("zm", 0))
            self.offset[lines] = np.where(np.abs(minutes) <= 14 * 60, minutes, NO_OFFSET)
        elif made.offset != NO_OFFSET:
            self.offset[lines] = made.offset
        if made.zone and not self.zone:
            self.zone = made.zone

    def _dates(self, made: Plan, lines: Index | slice, part: dict[str, npt.NDArray[np.int32]]) -> None:
        if made.kind == NO_DATE:
            return
        self.kind[lines] = made.kind
        if "a" in part:
            self.a[lines], self.b[lines], self.c[lines] = part["a"], part["b"], part["c"]
            return
        year = part["y"]
        short = any(name == "y" and high - low == 2 for name, low, high in made.spans)
        self.a[lines] = np.where(year < 69, year + 2000, year + 1900) if short else year
        self.b[lines] = part.get("m", made.month)
        self.c[lines] = part["d"]

    def _times(self, made: Plan, lines: Index | slice, part: dict[str, npt.NDArray[np.int32]]) -> None:
        if "h" not in part:
            return
        hour = part["h"]
        minute = part.get("mi", np.zeros(len(hour), np.int32))
        second = part.get("s", np.zeros(len(hour), np.int32))
        good = (minute < 60) & (second < 60)
        if made.half >= 0:  # 12 a.m. is 0 h, 12 p.m. is 12 h; 13 p.m. is what some loggers print for 1 p.m.
            self.halves = True
            hour = np.where(hour <= 12, hour % 12 + 12 * made.half, hour)
        over = hour > 24
        self.hours_over |= bool((over & good).any())
        self.fractions |= b".0" in made.look and made.look.count(b"0") > 14
        self.second[lines] = np.where(good, hour * 3600 + minute * 60 + second, NO_TIME)


def is_stamp(text: str) -> str:
    """What a cell tells: `stamp` (date and time), `date`, `time`, or `""`."""
    raw = text.strip(BLANKS).encode("utf-8", "replace")
    if len(raw) > MAX_STAMP or not raw[:40].strip() or not any(48 <= char <= 57 for char in raw):
        return ""
    made = plan(shape(raw))
    if made is None:
        return ""
    return _told(made, raw)


def _told(made: Plan, raw: bytes) -> str:
    names = {name for name, _, _ in made.spans}
    for name, low, high in made.spans:
        value = int(raw[low:high])
        top = {"mi": 59, "s": 59, "m": 12, "d": 31, "b": 31}.get(name)
        if top is not None and value > top:
            return ""
        if name == "y" and high - low == 4 and not 1900 <= value <= 2100:
            return ""
    if made.kind == NO_DATE:
        return "time"
    return "stamp" if "h" in names else "date"
