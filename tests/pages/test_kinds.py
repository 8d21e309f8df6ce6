"""Kinds by the names people use."""

import pytest

from chalaza import facts
from chalaza.pages.setup import kinds
from chalaza.words.language import Language, language
from chalaza.words.numbers import Voice


def test_every_key_name_and_alias_is_that_kind_and_no_other() -> None:
    for kind in facts.kinds().values():
        for name in (kind.key, kind.name, *kind.aliases):
            assert kinds.exact(Voice(), name) == kind
            assert kinds.found(Voice(), name)[0] == kind
    assert len(kinds.names(Voice())) == len(set(kinds.names(Voice())))


@pytest.mark.parametrize(
    ("typed", "keys"),
    [
        ("PEKIN", ["duck"]), ("lady amherst's", ["amherst_ph"]), ("red legged", ["redleg"]),
        ("anser", ["goose_light", "goose_heavy"]),
        ("quail", ["coturnix", "bobwhite", "calif_quail", "button_quail"]), ("phesant", ["pheasant"]), ("", []), ("dragon", []),
    ],
)  # fmt: skip
def test_a_part_of_a_name_or_one_written_wrong_finds_what_may_be_meant(typed: str, keys: list[str]) -> None:
    found = [kind.key for kind in kinds.found(Voice(), typed)]
    assert found[: len(keys)] == keys
    assert bool(found) is bool(keys)


def test_names_of_the_readers_language_count_as_well() -> None:
    spoken = Language("xx", lambda text: {"Muscovy duck": "Warzenente"}.get(text, text), lambda one, many, n: many)
    voice = Voice(language=spoken)
    found = kinds.exact(voice, "warzenente")
    assert found is not None
    assert found.key == "muscovy"
    assert kinds.name_of(voice, found) == "Warzenente"
    assert "Warzenente" in kinds.names(voice)
    assert kinds.exact(Voice(language=language()), "warzenente") is None


def test_what_is_none_is_named_short_enough_to_read() -> None:
    assert len(kinds.unknown(Voice(), "x" * 500)) < 200
    assert "“{y}”" in kinds.unknown(Voice(), "{y}")
