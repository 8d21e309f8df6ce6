"""The map of the tray."""

from chalaza.pages.entry import tray
from chalaza.records import models as m


def _eggs(*labels: str, count: int = 1) -> list[m.Egg]:
    return [m.Egg(pk=i, uid=label, label=label, count=count) for i, label in enumerate(labels)]


def _map(eggs: list[m.Egg], out: set[str] | None = None) -> tuple[int, list[str]]:
    laid = tray.lay(tray.in_order(eggs), out or set())
    return laid.columns, [cell.egg.label if cell.egg is not None else "" for cell in laid.cells]


def test_eggs_lie_by_letter_and_number_with_gaps_where_none_is() -> None:
    assert _map(_eggs("B2", "A1", "A5", "B1")) == (5, ["A1", "", "", "", "A5", "B1", "B2", "", "", ""])


def test_numbers_go_in_rows_of_seven_in_their_order() -> None:
    columns, labels = _map(_eggs(*map(str, range(12, 0, -1))))
    assert (columns, labels) == (7, [str(n) for n in range(1, 13)])


def test_a_wide_tray_two_eggs_of_one_place_and_groups_are_only_in_order() -> None:
    assert _map(_eggs("A1", "A12", "A2")) == (7, ["A1", "A2", "A12"])
    assert _map(_eggs("A1", "A1")) == (7, ["A1", "A1"])
    assert _map(_eggs("left", "right", count=12)) == (4, ["left", "right"])


def test_the_place_in_the_tray_goes_before_the_label() -> None:
    eggs = [m.Egg(pk=1, uid="x", label="blue", position="B1"), m.Egg(pk=2, uid="y", label="red", position="A1")]
    assert _map(eggs)[1][:1] == ["red"]


def test_what_is_out_says_so() -> None:
    laid = tray.lay(_eggs("A1", "A2"), {"A2"})
    assert [cell.out for cell in laid.cells] == [False, True, False, False]
