"""Acts in words: every verb and every sort of row has them."""

import ast
from pathlib import Path

import pytest
from tests.records.demo import NOW

from chalaza.pages import told
from chalaza.records import models as m
from chalaza.records.rows import MODELS
from chalaza.values.fields import columns
from chalaza.words.language import OPEN, PSEUDO, language
from chalaza.words.numbers import Voice

SOURCE = Path(told.__file__).parents[1]
#: Functions that do an act, and which of their arguments is the verb.
DOING = {"act": 1, "do": 2, "away": 3}
TECHNICAL = {"uid", "session", "batch", "probe", "parents", "machine", "egg", "lot", "place"}


def _verbs() -> set[str]:
    """Every verb written in the source."""
    found = set()
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            args = list(node.args[DOING[name] :][:1]) if name in DOING else []
            args += [one.value for one in node.keywords if name == "Change" and one.arg == "verb"]
            found |= {one.value for one in args if isinstance(one, ast.Constant) and isinstance(one.value, str)}
    return found


def test_every_verb_in_the_source_has_words() -> None:
    verbs = _verbs()
    assert len(verbs) > 15
    assert verbs - set(told.VERBS) == set()


def test_every_column_of_the_open_folder_has_words_in_the_history() -> None:
    missing = {
        f"{row.__name__}.{one.name}"
        for row in MODELS
        for one in columns(row)
        if not {one.name, f"{one.name}_id"} & set(told.FIELDS) and one.name not in TECHNICAL
    }
    assert missing == set()


def _change(model: str, before: dict[str, object] | None, after: dict[str, object] | None) -> m.Change:
    return m.Change(model=model, row="r", before=before, after=after)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("model", "after", "says"),
    [
        ("Weighing", {"eggs": "all", "gross_g": 1620.0, "tare_g": 420.0}, "all eggs 1200.0\u00a0g"),
        ("Candling", {"egg_id": "gone", "finding": "dead", "count": 3}, "gone 3 stopped"),
        ("Hatch", {"egg_id": None, "stage": "pipped", "count": 2}, "2 pipped"),
        ("Breakout", {"egg_id": None, "stage": "pipped", "count": 1}, "1 pipped, not out"),
        ("Event", {"sort": "set_point", "set_point_degc": 37.5}, "set point changed 37.5\u00a0°C"),
        ("Note", {"text": "x" * 100}, "x" * 80 + "…"),
        ("Machine", {"name": "Larder box"}, "Larder box"),
    ],
)
def test_a_row_is_told_in_a_few_words(model: str, after: dict[str, object], says: str) -> None:
    row = told.row(Voice(), _change(model, None, after), told.Names())
    assert row.name.startswith(says)
    assert row.new


@pytest.mark.django_db
def test_only_what_differs_is_told_and_in_the_keepers_units() -> None:
    before = {"name": "A", "airflow": "fan", "volume_l": 40.0, "mapped": False}
    row = told.row(Voice(), _change("Machine", before, {**before, "airflow": "still", "mapped": True}), told.Names())
    assert [(one.name, one.before, one.after) for one in row.fields] == [
        ("air", "a fan moves the air", "still air, no fan"),
        ("mapped", "no", "yes"),
    ]
    point = told.row(Voice(), _change("Event", None, {"sort": "water", "at": NOW}), told.Names())
    assert ("when", "", "Fri\u00a017\u00a0April\u00a02026,\u00a016:40") in [
        (f.name, f.before, f.after) for f in point.fields
    ]


@pytest.mark.django_db
def test_an_act_is_told_in_another_language() -> None:
    voice = Voice(language=language(PSEUDO))
    act = m.Act(verb="candle", subject="Hens")
    said = told.sentence(
        voice, act, told.Names(), [_change("Candling", None, {"egg_id": "e", "finding": "live", "count": 1})]
    )
    assert said.startswith(OPEN)
    assert "Candled" not in said
