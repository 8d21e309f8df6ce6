"""Import recipes: answers kept for the next file of a look."""

from pathlib import Path

import pytest

from chalaza.errors import ReadingError
from chalaza.intake import Recipe, read
from chalaza.intake.recipe import all_in, find, load, save

from .files import codes, rows, table

SHORT = "{day:02d}/03/24 {h:02d}:{m:02d}"


def _file(serial: int, day: int = 4, head: str = "Time;Temp °C S/N {0};RH %") -> bytes:
    return table(rows(20, day=day, form=SHORT), head.format(serial))


def test_a_recipe_answers_the_next_file_of_the_look(tmp_path: Path) -> None:
    first = read(_file(1234))
    assert codes(first) == {"date-order": True}
    save(tmp_path, Recipe("shelf-logger", first.report.look, {"date-order": "dmy"}, "Europe/Paris"))
    recipe = find(tmp_path, read(_file(9876, day=5)).report.look)
    assert recipe == load(tmp_path, "shelf-logger")
    reading = read(_file(9876, day=5), recipe=recipe)
    assert codes(reading) == {}
    assert reading.report.zone == "Europe/Paris"
    assert str(reading.probes[0].t[0].astype("datetime64[s]")) == "2024-03-04T23:00:00"
    assert any("shelf-logger" in note for note in reading.report.notes)


def test_an_answer_given_now_goes_before_the_recipe() -> None:
    recipe = Recipe("one", read(_file(1)).report.look, {"date-order": "dmy"})
    assert read(_file(1), recipe=recipe, answers={"date-order": "mdy"}).report.first == "2024-04-03T00:00:00"


def test_a_recipe_for_another_look_is_not_used() -> None:
    recipe = Recipe("one", read(_file(1)).report.look, {"date-order": "dmy"})
    other = read(_file(1, head="Zeit;Temp °C {0};rF %"), recipe=recipe)
    assert codes(other) == {"date-order": True}
    assert any("another look" in note for note in other.report.notes)


def test_recipes_go_to_text_and_back(tmp_path: Path) -> None:
    recipe = Recipe("größe".encode("ascii", "ignore").decode() + "-1", "abc", {"unit:2": "degc"}, "+01:00")
    assert Recipe.from_text(recipe.to_text()) == recipe
    save(tmp_path, recipe)
    assert all_in(tmp_path) == [recipe]
    assert all_in(tmp_path / "nowhere") == []


@pytest.mark.parametrize("name", ["", "../up", "Big", "a/b", "x" * 41, "-a"])
def test_a_name_cannot_leave_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(ReadingError, match="no name for a recipe"):
        save(tmp_path, Recipe(name, "look"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"name": "a", "look": 1, "zone": "", "answers": [], "version": 1}'])
def test_other_text_is_refused(text: str) -> None:
    with pytest.raises(ReadingError, match="no import recipe"):
        Recipe.from_text(text)


def test_a_recipe_that_is_not_there_names_those_that_are(tmp_path: Path) -> None:
    save(tmp_path, Recipe("one", "look"))
    (tmp_path / "broken.recipe.json").write_text("{", encoding="utf-8")
    with pytest.raises(ReadingError, match="no import recipe 'two'; there are: one"):
        load(tmp_path, "two")
    with pytest.raises(ReadingError, match="of version 9"):
        Recipe.from_text(Recipe("one", "look").to_text().replace('"version": 1', '"version": 9'))
