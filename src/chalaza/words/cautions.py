"""The usual cautions, by key of the table: they stand where the act is, in the same voice as the advice."""

from collections.abc import Iterable

from chalaza import facts
from chalaza.words.numbers import Voice

#: Said once below every answer.
ALWAYS = "informs_only"


def caution(voice: Voice, key: str) -> str:
    """The text of a caution. Raises `KeyError` for no such key (our bug)."""
    text = {row["caution"]: row["text"] for row in facts.table("cautions")}[key]
    return voice.language.gettext(text)


def cautions(voice: Voice, keys: Iterable[str]) -> tuple[str, ...]:
    """The texts of some cautions, each once, in order."""
    return tuple(caution(voice, key) for key in dict.fromkeys(keys))
