"""Languages: English without a catalog, catalogs of `gettext`, and the pseudo-language for tests."""

import struct
from pathlib import Path

import pytest

from chalaza.errors import ChalazaError
from chalaza.words.language import PSEUDO, Plural, language, languages, pseudo
from chalaza.words.numbers import Voice


def write_catalog(folder: Path, name: str, messages: dict[str, str]) -> None:
    """A catalog in the binary form of GNU gettext (manual, "The Format of GNU MO Files"): magic, offsets, strings."""
    header = {"": "Content-Type: text/plain; charset=UTF-8\nPlural-Forms: nplurals=2; plural=n != 1;\n"}
    pairs = [(key.encode(), value.encode()) for key, value in sorted((header | messages).items())]
    start = 28 + 16 * len(pairs)
    keys, values, blob = [], [], b""
    for column, into in ((0, keys), (1, values)):
        for pair in pairs:
            into.append((len(pair[column]), start + len(blob)))
            blob += pair[column] + b"\0"
    table = b"".join(struct.pack("<II", *entry) for entry in (*keys, *values))
    head = struct.pack("<7I", 0x950412DE, 0, len(pairs), 28, 28 + 8 * len(pairs), 0, 0)
    target = folder / name / "LC_MESSAGES"
    target.mkdir(parents=True)
    (target / "chalaza.mo").write_bytes(head + table + blob)


def test_english_needs_no_catalog() -> None:
    english = language()
    assert english.gettext("Leave the dial alone.") == "Leave the dial alone."
    assert [english.ngettext("{n} egg", "{n} eggs", n) for n in (0, 1, 2)] == ["{n} eggs", "{n} egg", "{n} eggs"]


def test_a_catalog_is_found_and_used_with_its_plurals(tmp_path: Path) -> None:
    words = {"Leave {band} alone.": "{band} lassen.", "{n} egg\0{n} eggs": "{n} Ei\0{n} Eier"}
    write_catalog(tmp_path, "de", words)
    assert languages(tmp_path) == ("en", "de")
    voice = Voice(language=language("de", tmp_path))
    assert voice.say("Leave {band} alone.", {"band": "37 °C"}) == "37 °C lassen."
    assert voice.say(Plural("{n} egg", "{n} eggs", "n"), {"n": "3"}, 3) == "3 Eier"
    assert voice.say(Plural("{n} egg", "{n} eggs", "n"), {"n": "1"}, 1) == "1 Ei"


def test_what_a_catalog_lacks_is_said_in_english(tmp_path: Path) -> None:
    write_catalog(tmp_path, "de", {})
    assert Voice(language=language("de", tmp_path)).say("Stop turning.") == "Stop turning."


def test_a_language_that_is_not_there_is_refused_by_name() -> None:
    with pytest.raises(ChalazaError, match="no language 'xx'; allowed: en"):
        language("xx")


def test_the_pseudo_language_changes_every_letter_and_keeps_the_holes() -> None:
    said = pseudo("Leave {band} alone, ABC xyz.")
    assert "{band}" in said
    assert not any(letter.isascii() and letter.isalpha() for letter in said.replace("{band}", ""))
    assert said[0] + said[-1] == "⟦⟧"
    assert Voice(language=language(PSEUDO)).say("At {rh}.", {"rh": "{x}"}) == "⟦Áť {x}.⟧"
