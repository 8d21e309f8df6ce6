"""Words for log files: questions about them, ways to read them, what speaks for one, what was set aside, what was found.

The reader says what it found in English, for the command line, and its questions by code. Here each of its sentences
stands once as a template: what it said is recognised by its template and said again in the reader's language.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice


@dataclass(frozen=True, slots=True)
class Asked:
    """A question: the words over its ways, and what it is about, in a sentence of the lead."""

    title: str
    lead: str


#: First part of a question's code -> its words. `{column}` is the column by name.
QUESTIONS: Mapping[str, Asked] = MappingProxyType(
    {
        "date-order": Asked(
            mark("Which way round are the dates?"),
            mark("Its dates can be read in more than one way, and nothing in the file decides it."),
        ),
        "zone": Asked(
            mark("Which clock did the logger have?"), mark("It does not say which clock its hours are from.")
        ),
        "clock-reset": Asked(
            mark("The clock of the logger fell back to its start. What about those rows?"),
            mark("Its clock fell back in the midst of the record, as after a new battery."),
        ),
        "start": Asked(
            mark("When was the first reading?"), mark("It counts hours and names no day, so the day is needed.")
        ),
        "elapsed-unit": Asked(
            mark("In what is the elapsed time counted?"), mark("It counts elapsed time and does not say in what.")
        ),
        "serial-epoch": Asked(
            mark("From when does the spreadsheet count its days?"), mark("It counts days as spreadsheets do.")
        ),
        "unit": Asked(mark("Is {column} in °C or in °F?"), mark("Its temperatures have no unit.")),
        "unit-switch": Asked(
            mark("Was the unit of {column} switched on the way?"),
            mark("Its temperatures jump as from °F to °C or back."),
        ),
        "scale": Asked(mark("Is {column} in tenths or hundredths?"), mark("Its figures are whole numbers, too large.")),
        "fraction": Asked(mark("Is {column} in per cent?"), mark("Its humidity stays between 0 and 1.")),
        "quantity": Asked(mark("What does {column} hold?"), mark("One of its columns could hold several things.")),
        "decimal-comma": Asked(
            mark("Does the comma mark decimals too?"),
            mark("The comma divides its columns and may mark the decimals as well."),
        ),
    }
)
#: A question of a kind that is not known here.
OTHER = Asked(mark("How is it to be read?"), mark("It can be read in more than one way."))

#: (first part of a code, key of an answer) -> what choosing it says.
WAYS: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("date-order", "dmy"): mark("Day, month, year"),
        ("date-order", "mdy"): mark("Month, day, year"),
        ("date-order", "ymd"): mark("Year, month, day"),
        ("clock-reset", "drop"): mark("Leave those rows out"),
        ("clock-reset", "continue"): mark("They follow on the others without a gap"),
        ("elapsed-unit", "s"): mark("Seconds"),
        ("elapsed-unit", "min"): mark("Minutes"),
        ("elapsed-unit", "h"): mark("Hours"),
        ("elapsed-unit", "d"): mark("Days"),
        ("serial-epoch", "1900"): mark("From 1900, as most do"),
        ("serial-epoch", "1904"): mark("From 1904"),
        ("unit", "degc"): mark("Degrees Celsius"),
        ("unit", "degf"): mark("Degrees Fahrenheit"),
        ("unit-switch", "switched"): mark("It was switched there"),
        ("unit-switch", "as-printed"): mark("The temperature did jump"),
        ("scale", "1"): mark("As printed"),
        ("scale", "10"): mark("Tenths"),
        ("scale", "100"): mark("Hundredths"),
        ("fraction", "fraction"): mark("No: 1 is saturated"),
        ("fraction", "percent"): mark("Yes: 100 is saturated"),
        ("quantity", "temp-degc"): mark("Temperature in °C"),
        ("quantity", "temp-degf"): mark("Temperature in °F"),
        ("quantity", "rh"): mark("Humidity in per cent"),
        ("quantity", "rh-fraction"): mark("Humidity from 0 to 1"),
        ("quantity", "ignore"): mark("Neither: leave it out"),
        ("decimal-comma", "decimal"): mark("Yes: two numbers belong together"),
        ("decimal-comma", "separator"): mark("No: every number is whole"),
    }
)

#: What speaks for the likelier way (a code of `intake.likely`).
LIKELIER: Mapping[str, str | Plural] = MappingProxyType(
    {
        "future": Plural(
            mark("Likelier: another way puts {n} reading after this moment."),
            mark("Likelier: another way puts {n} readings after this moment."),
            by="n",
        ),
        "unbroken": mark("Likelier: so the record runs on with the fewest breaks."),
        "batch": mark("Likelier: so it lies within a batch of yours."),
        "recent": mark("Likelier: so it ends not long before today."),
        "usual": mark("Likelier: most loggers take over the clock of the computer they are set from."),
        "fits": mark("Likelier: its hours do not fit a clock that is set back and forth."),
        "incubator": mark("Likelier: so it reads what incubators run at."),
        "room": mark("Likelier: so it reads what a room has."),
        "humidity": mark("Likelier: so it reads what air has."),
    }
)
NEITHER = mark("Nothing speaks for one of them.")

#: Why a line or a cell was set aside (a reason of the reader).
REASONS: Mapping[str, str] = MappingProxyType(
    {
        "blank": mark("empty"),
        "comment": mark("a comment line"),
        "repeated-header": mark("the header again"),
        "field-count": mark("another number of cells than the other rows"),
        "half-line": mark("the file breaks off inside the line"),
        "line-too-long": mark("longer than a row can be"),
        "torn": mark("NUL bytes inside: written while the power failed"),
        "bad-time": mark("its time cannot be read"),
        "footer": mark("text below the readings"),
        "event-only": mark("an event without a reading"),
        "no-measurement": mark("a time without a reading"),
        "duplicate": mark("the same row again"),
        "clock-reset": mark("the clock had fallen back to its start"),
        "missing-hour": mark("an hour that does not exist on that day"),
        "missing": mark("a word for nothing"),
        "sensor-error": mark("the sensor reported an error"),
        "sensor-code": mark("a value sensors give when they cannot read"),
        "out-of-span": mark("outside what can be true"),
        "censored": mark("only known to be below or above"),
        "spreadsheet-damage": mark("changed by a spreadsheet"),
        "half-number": mark("a number that breaks off"),
        "text": mark("words where a number belongs"),
    }
)

#: What a column was taken for (a role of the reader).
ROLES: Mapping[str, str] = MappingProxyType(
    {
        "time": mark("time"),
        "temperature": mark("temperature"),
        "rh": mark("humidity"),
        "index": mark("running number"),
        "empty": mark("nothing in it"),
        "text": mark("words"),
        "id": mark("which sensor"),
        "type": mark("which quantity"),
        "unit": mark("units"),
        "no-sensor": mark("no sensor"),
        "set-point": mark("set point"),
        "alarm": mark("alarm"),
        "battery": mark("battery"),
        "signal": mark("signal"),
        "dew-point": mark("dew point"),
        "wet-bulb": mark("wet bulb"),
        "absolute-humidity": mark("absolute humidity"),
        "vapour": mark("vapour"),
        "derived": mark("worked out by the logger"),
        "pressure": mark("pressure"),
        "gas": mark("gas"),
        "light": mark("light"),
        "weather": mark("weather"),
        "soil-moisture": mark("soil moisture"),
        "electric": mark("electric"),
        "interval": mark("interval"),
        "occupancy": mark("occupancy"),
        "ignored": mark("left out as answered"),
        "unknown": mark("not known"),
    }
)

#: Every sentence the reader builds, as a template; longer ones first where one begins like another.
TOLD: tuple[str, ...] = (
    # Columns.
    mark("no cell is filled"),
    mark("most filled cells are words"),
    mark("a number that rises by one from row to row"),
    mark("named after humidity but in {unit}"),
    mark("named after temperature but in {unit}"),
    mark("its unit is % and its name says nothing else"),
    mark("its unit is % but its name is not known"),
    mark("its unit is {unit}"),
    mark("its name and unit"),
    mark("its name says {what}"),
    mark("its name is not known"),
    mark("it has no name"),
    mark("units stand in the cells and differ: all turned to °C"),
    mark("the unit stands in the cells"),
    mark("its cells are units"),
    mark("its cells name the quantity of each row"),
    mark("its cells name {n} sensors"),
    mark("units stand in a column of their own"),
    mark("rows that say {text}"),
    mark("rows of {text}"),
    mark("no unit given: as °F it would be colder than 45 °F"),
    mark("no unit given: too warm for °C"),
    mark("no value exceeds 1"),
    mark("unit switched part-way, as answered: all turned to °C"),
    mark("every value is the sensor code {value}"),
    mark("every value lies on the 1/16 grid on which 12-bit digital thermometers count in °C"),
    mark("as answered"),
    mark("asked about"),
    mark("further times, not used"),
    mark("{statistic} of a time span, not a reading: left out"),
    # Times.
    mark("column {n} holds date and time"),
    mark("date in column {date}, time in column {time}"),
    mark("column {n} holds dates without a time: one row a day"),
    mark("column {n} holds times of day"),
    mark("no column holds a date"),
    mark("column {n} counts {unit} since 1970"),
    mark("column {n} holds spreadsheet serial days, counted from {year}"),
    mark("column {n} holds spreadsheet serial days"),
    mark("column {n} counts elapsed time"),
    mark("start not known"),
    mark("start {start}"),
    mark("year first, or the month by name"),
    mark("day and month are the same number throughout"),
    mark("{order}: record counter and step of {step} s run on over midnight"),
    mark("{order}: the step of {step} s runs on over {n} midnights"),
    mark("{order}: {others} dates impossible as {other}"),
    mark("not decided"),
    mark("shown as {order}"),
    mark("{order}, as answered"),
    mark("12-hour clock: 12 a.m. is 0 h, 12 p.m. is 12 h"),
    mark("fractions of a second are cut off"),
    mark("hours run from 1 to 12 twice a day without a.m. and p.m.: halves told apart by their order"),
    mark("serial days with four decimals: set to the whole minute where it lies within 5 s"),
    mark("seconds are cut off: steps jump by a minute"),
    mark("the newest row stands first: turned round"),
    mark("time goes back an hour {times}, as when a clock is set back: say the zone to place these rows"),
    mark("rows are not in order of time: time goes back {times}"),
    mark("they were sorted"),
    mark("offset {zone} taken off"),
    mark("zone {zone}, winter time all year, as answered"),
    mark("zone {zone}, clock never changed, as answered"),
    mark("{n} rows told to lie in a repeated hour by their order"),
    mark("zone {zone}"),
    mark("the file says its zone itself ({told})"),
    mark("the zone {zone} was not used"),
    # The file.
    mark("{n} columns divided by {delimiter}"),
    mark("decimal {mark}"),
    mark("readings from line {line}"),
    mark("plain ASCII"),
    mark("UTF-8 with a byte-order mark"),
    mark("UTF-8"),
    mark("{encoding} by its byte-order mark"),
    mark("{encoding} by its pattern of NUL bytes"),
    mark("code page {page}"),
    mark("{n} NUL bytes: written while the power failed"),
    mark("{n} NUL bytes"),
    mark("the header has one name too few: an unnamed first column was found and the names moved"),
    mark("read by the recipe {name}"),
    mark("the recipe {name} is for files of another look and was not used"),
    # What the keeper should know.
    mark("{sort}, not readings: {names}"),
    mark("a day's extremes do not tell how warm the eggs were"),
    mark("{n} rows have the time of another row but other values: all kept"),
    mark("{n} values of column {column} lie over saturation, kept as printed: wet or drifted sensor"),
    mark("column {column} stands at {value} for {hours} h, saturated: kept, but look at the sensor"),
    mark("column {column} stands at {value} for {hours} h, without the least change: kept, but look at the sensor"),
)
#: What fills a template and is a word itself.
FILLING: tuple[str, ...] = (
    mark("day, month, year"), mark("month, day, year"), mark("year, month, day"), mark("semicolon"), mark("tab"),
    mark("bar"), mark("comma"), mark("two blanks or more"), mark("blanks"), mark("point"), mark("once"),
    mark("daily extremes"), mark("extremes"), mark("max"), mark("min"), mark("spread"),
)  # fmt: skip
_JOINT = "; "


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    made = []
    for text in TOLD:
        parts = re.split(r"\{(\w+)\}", text)
        pattern = "".join(re.escape(one) if i % 2 == 0 else f"(?P<{one}>.+?)" for i, one in enumerate(parts))
        made.append((text, re.compile(pattern, re.DOTALL)))
    return tuple(made)


def known(said: str) -> tuple[str, Mapping[str, str]] | None:
    """The template a sentence of the reader was made by, and what fills it; None for none."""
    for text, pattern in _patterns():
        if (found := pattern.fullmatch(said)) is not None:
            return text, found.groupdict()
    return None


def told(voice: Voice, said: str) -> str:
    """What the reader said, sentence by sentence, in this language; what is not known stays as it is."""
    return _JOINT.join(_one(voice, part) for part in said.split(_JOINT)) if said else ""


def _one(voice: Voice, part: str) -> str:
    found = known(part)
    if found is None:
        return part
    text, holes = found
    return voice.say(text, {name: _filling(voice, value) for name, value in holes.items()})


def _filling(voice: Voice, value: str) -> str:
    if value in ROLES:
        return voice.say(ROLES[value])
    return voice.say(value) if value in FILLING else value
