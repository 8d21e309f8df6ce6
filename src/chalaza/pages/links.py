"""Addresses of pages: of a batch and its parts, of the form that serves a job, of where a figure comes from."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from urllib.parse import quote, urlencode

from chalaza.pages.uids import Uid
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

#: The forms of a batch: name -> its part of the address, and what is pressed.
FORMS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "weigh": ("weigh/", mark("Weigh")),
        "candle": ("candle/", mark("Candle")),
        "turn": ("turn/", mark("Turn")),
        "event": ("event/", mark("Note what happened")),
        "hatch": ("hatch/", mark("Note young")),
        "mark": ("mark/", mark("Mark air cells")),
        "open": ("open/", mark("Note opened eggs")),
        "note": ("note/", mark("Write a note")),
    }
)
#: Before the code of a sentence, where a figure would have its path: some codes are spelt as a path is.
SAID = "said."
_CHECK = mark("Enter the check")
_MOUNT = mark("Note the place of the probe")


@dataclass(frozen=True, slots=True)
class Link:
    """Where something leads, and what it says, in the reader's language."""

    href: str
    label: str


def _name(uid: str) -> str:
    return quote(Uid().to_url(uid), safe="~")


def batch(uid: str, part: str = "") -> str:
    """A page of a batch."""
    return f"/batches/{_name(uid)}/{part}"


def why(uid: str, figure: str) -> str:
    """Where a figure of a batch comes from; `figure` is its path in the answers."""
    return batch(uid, f"why/{quote(figure, safe='')}/")


def why_said(uid: str, code: str) -> str:
    """Where the figures of a sentence come from; `code` is that of an advice or of a job."""
    return why(uid, f"{SAID}{code}")


def history(uid: str) -> str:
    """What was done to a batch."""
    return f"/history/?{urlencode({'batch': uid})}"


def probe(uid: str) -> str:
    """The page of a probe."""
    return f"/probes/{_name(uid)}/"


def log(uid: str) -> str:
    """The page of a log."""
    return f"/logs/{_name(uid)}/"


def source(key: str) -> str:
    """A source in the list of sources."""
    return f"/sources/#{quote(key)}"


def form(voice: Voice, uid: str, name: str, on: str | None = None) -> Link | None:
    """The entry that serves a job (`Job.form`): of the batch, or of its probe `on` where it is known; None for no form."""
    what, _, sort = name.partition(":")
    if what in ("check", "mount"):
        label = voice.say(_CHECK if what == "check" else _MOUNT)
        if on is None:
            return Link("/machines/", label)
        tail = f"check/?{urlencode({'sort': sort})}" if what == "check" else ""
        return Link(probe(on) + tail, label)
    if what not in FORMS:
        return None
    part, label = FORMS[what]
    query = f"?{urlencode({'sort': sort})}" if sort else ""
    return Link(batch(uid, part) + query, voice.say(label))


#: A check that can be done now (`Offer.code`) -> the form that takes it.
OFFERS: Mapping[str, str] = MappingProxyType(
    {"ice": "check:ice", "compare": "check:compare", "salt": "check:salt", "weigh_three": "weigh", "weigh_all": "weigh",
     "candle": "candle"}
)  # fmt: skip
