"""Every value of every enumeration has its word, and no word is used twice."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

import pytest

from chalaza.physics.probe import SALTS as KNOWN_SALTS
from chalaza.values.evidence import Airflow, CheckSort, LaidAt, Origin, ProbeSort, Shell
from chalaza.words import things
from chalaza.words.numbers import Preference


@pytest.mark.parametrize(
    ("words", "of"),
    [
        (things.AIRFLOWS, Airflow), (things.PROBE_SORTS, ProbeSort), (things.CHECK_SORTS, CheckSort),
        (things.SHELLS, Shell), (things.ORIGINS, Origin), (things.LAID_AT, LaidAt), (things.PREFERENCES, Preference),
    ],
)  # fmt: skip
def test_every_value_has_a_word_of_its_own(words: Mapping[Any, str], of: type[StrEnum]) -> None:
    assert list(words) == list(of)
    assert len(set(words.values())) == len(words)


def test_every_salt_of_the_tables_has_a_name() -> None:
    assert set(things.SALTS) == set(KNOWN_SALTS)
