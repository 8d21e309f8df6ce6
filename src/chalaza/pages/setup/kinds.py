"""Kinds of bird by the names people use: found by name, trade name or part of one, in the reader's language too."""

from difflib import get_close_matches

from chalaza import facts
from chalaza.errors import EvidenceError
from chalaza.facts import Kind
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

_MOST = 6


def name_of(voice: Voice, kind: Kind) -> str:
    """What a kind is called in the reader's language."""
    return voice.language.gettext(kind.name)


def names(voice: Voice) -> tuple[str, ...]:
    """All names a keeper may type, the full ones first."""
    full = [name_of(voice, kind) for kind in facts.kinds().values()]
    return tuple(dict.fromkeys([*full, *(alias for kind in facts.kinds().values() for alias in kind.aliases)]))


def exact(voice: Voice, text: str) -> Kind | None:
    """The kind of that key or name, and no other."""
    try:
        return facts.kind(text)
    except EvidenceError:
        wanted = _plain(text)
        return next((kind for kind in facts.kinds().values() if _plain(name_of(voice, kind)) == wanted), None)


def found(voice: Voice, text: str) -> tuple[Kind, ...]:
    """Kinds whose names hold all words of `text`, that of exactly this name first; the nearest where none does."""
    words = _plain(text).split()
    first = exact(voice, text)
    held = [kind for kind in facts.kinds().values() if _holds(voice, kind, words)]
    if first is not None:
        return (first, *(kind for kind in held if kind.key != first.key))
    return tuple(held) or _near(text)


def _holds(voice: Voice, kind: Kind, words: list[str]) -> bool:
    said = (kind.key, kind.name, kind.scientific_name, name_of(voice, kind), *kind.aliases)
    return bool(words) and any(all(word in _plain(one) for word in words) for one in said)


def _near(text: str) -> tuple[Kind, ...]:
    known = {_plain(one): kind for kind in facts.kinds().values() for one in (kind.key, kind.name, *kind.aliases)}
    close = get_close_matches(_plain(text), known, n=_MOST, cutoff=0.6)
    return tuple({known[name].key: known[name] for name in close}.values())


def _plain(text: str) -> str:
    return " ".join(text.casefold().replace("_", " ").replace("-", " ").replace("'", "").replace("’", "").split())


def unknown(voice: Voice, text: str) -> str:
    """What is said of a name that is none."""
    return voice.say(
        mark(
            "“{typed}” is no kind in the tables. Write a name such as hen, Pekin or guinea fowl; facts lists them all."
        ),
        {"typed": text[:60]},
    )


def suggested(voice: Voice, text: str) -> tuple[Kind, ...]:
    """At most six kinds that may have been meant."""
    return found(voice, text)[:_MOST]
