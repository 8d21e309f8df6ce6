"""Options that every command shares, and what they mean: units, language, the moment."""

import time
from collections.abc import Callable
from datetime import date, datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click

from chalaza.errors import EvidenceError
from chalaza.words.language import ENGLISH, language
from chalaza.words.numbers import Preference, Voice

Command = TypeVar("Command", bound=Callable[..., Any])

units_option = click.option(
    "--units",
    type=click.Choice([str(one) for one in Preference]),
    default=str(Preference.BOTH),
    show_default=True,
    help="Units to read: °C with °F beside it, or one system alone.",
)
language_option = click.option(
    "--language", "language_name", default=ENGLISH, show_default=True, metavar="NAME", help="Language of the sentences."
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON: figures and sentences, nothing rounded."
)


def reading_options(command: Command) -> Command:
    """The options of a command that speaks."""
    return units_option(language_option(command))


def voice(units: str, language_name: str) -> Voice:
    """Who is spoken to. Raises `ChalazaError` for a language that is not there."""
    return Voice(language=language(language_name), units=Preference(units))


def moment(text: str | None, zone: str) -> int:
    """`--now` as seconds UTC: ISO 8601; without an offset it is in `zone`; a date alone means noon. None: this moment.

    Raises `EvidenceError` saying what is allowed.
    """
    if text is None:
        return int(time.time())
    try:
        if len(text.strip()) <= len("2026-04-17"):
            day = date.fromisoformat(text.strip())
            when = datetime(day.year, day.month, day.day, 12)
        else:
            when = datetime.fromisoformat(text.strip())
        when = when if when.tzinfo else when.replace(tzinfo=ZoneInfo(zone))
        return int(when.timestamp())
    except (ValueError, OverflowError, OSError):
        raise EvidenceError(
            f"{text!r} is no moment; write 2026-04-17T18:40, with +02:00 or Z behind it if it is not in the batch's "
            "time zone, or a date alone for its noon"
        ) from None
