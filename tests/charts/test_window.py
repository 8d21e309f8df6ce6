from zoneinfo import ZoneInfo

import pytest

from chalaza.charts import WINDOWS, charts, window_of
from chalaza.charts.base import plain
from chalaza.charts.window import end_of, names, view
from chalaza.errors import EvidenceError
from charts.cases import CASES, evidence, understood
from charts.drawings import sound
from charts.reading import words
from factory import DAY_S, HOUR_S, SET_AT

BERLIN = ZoneInfo("Europe/Berlin")
_CLOSE = [(case, width, name) for case in CASES for width in (350, 420) for name in ("day", "three_days", "week")]


def asked(case: str, name: str) -> tuple[float, float] | None:
    u, _ = understood(case)
    return (u.as_of - 7.0 * DAY_S, float(u.as_of)) if name == "week" else window_of(u, name)


def drawn(case: str, name: str, *, width: int = 420, **options):
    found, _ = evidence(case)
    return charts(
        *understood(case), width=width, window=asked(case, name), readings=found.setting.series,
        only=("warmth", "water"), **options,
    )  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_named_windows_reach_back_from_now_or_from_the_end_of_the_hatch(case):
    u, _ = understood(case)
    end = SET_AT + end_of(u) * DAY_S
    assert window_of(u, "term") is None
    for name, days in (("day", 1.0), ("three_days", 3.0)):
        first, last = window_of(u, name)
        assert last == pytest.approx(end)
        assert first == pytest.approx(max(end - days * DAY_S, SET_AT))
    assert end <= u.as_of
    assert (end < u.as_of - HOUR_S) == (case == "after")


def test_no_window_of_another_name_or_of_no_length_or_elsewhere():
    u, a = understood("day12")
    with pytest.raises(EvidenceError, match="no window 'year'; allowed: day, three_days, term"):
        window_of(u, "year")
    for first, last in ((5.0, 5.0), (5.0, 4.0), (-3.0, -1.0), (13.0, 14.0)):
        with pytest.raises(
            EvidenceError, match=r"no such window: .* was asked for; it must lie between Sun 1, 08:00 and Fri 13"
        ):
            charts(u, a, window=(SET_AT + first * DAY_S, SET_AT + last * DAY_S))
    with pytest.raises(EvidenceError, match="no drawing 'weight'; allowed: warmth, water"):
        charts(u, a, only=("weight",))
    assert set(WINDOWS) == {"day", "three_days", "term"}


def test_what_lies_beyond_the_term_is_left_off():
    u, _ = understood("day12")
    seen = view(u, (SET_AT - 5.0 * DAY_S, SET_AT + 90.0 * DAY_S))
    assert (seen.start_d, seen.end_d) == (0.0, pytest.approx(12.0))
    assert seen.to_now
    assert not seen.to_end
    assert view(understood("after")[0], window_of(understood("after")[0], "day")).to_end
    assert view(u, None) is None


def test_the_axis_is_named_by_hours_or_dates_or_days():
    u, _ = understood("day12")

    def named(first: float, last: float) -> list[str]:
        return [one.text for one in names(u, view(u, (SET_AT + first * DAY_S, SET_AT + last * DAY_S)), BERLIN, plain)]

    # Set on Sunday, 1 March at 09:00 in Berlin.
    assert named(11.0, 12.0) == ["now", "Fri 13", "12:00", "18:00", "06:00"]
    assert named(4.0, 7.0) == ["Fri 6", "Sat 7", "Sun 8"]
    assert named(0.0, 1.0) == ["set", "Mon 2", "12:00", "18:00", "06:00"]
    assert named(1.0, 12.0) == ["now", "7"]


@pytest.mark.parametrize(("case", "width", "name"), _CLOSE)
def test_close_looks_are_sound_and_no_word_covers_another_or_is_cut(case, width, name):
    for one in drawn(case, name, width=width).values():
        root = sound(one.svg())
        assert root.get("width") == str(width)
        assert root.get("aria-label") == one.label
        placed = words(one.definition)
        height = one.definition["height"] + one.definition["padding"]["bottom"]
        for word, _, (left, top, right, bottom) in placed:
            assert min(left, top) >= -0.5, word
            assert right <= width + 0.5, word
            assert bottom <= height + 0.5, word
        for i, (first, _, a) in enumerate(placed):
            for second, _, b in placed[i + 1 :]:
                assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (first, second)


@pytest.mark.parametrize("name", ["day", "three_days"])
@pytest.mark.parametrize("case", CASES)
def test_every_mark_of_a_close_look_lies_inside(case, name):
    for one in drawn(case, name).values():
        for group in one.definition["layer"]:
            for layer in group.get("layer", []):
                rows = one.definition["datasets"][layer["data"]["name"]]
                for channel, end in (("x", 420.0), ("y", 214.0)):
                    encoding = layer["encoding"]
                    (low, high), (first, last) = (
                        encoding[channel]["scale"]["domain"],
                        encoding[channel]["scale"]["range"],
                    )
                    fields = [encoding[key]["field"] for key in (channel, f"{channel}2") if key in encoding]
                    for value in (row[field] for row in rows for field in fields):
                        if value is not None:
                            assert -0.5 <= first + (value - low) / (high - low) * (last - first) <= end + 0.5, layer[
                                "data"
                            ]


def test_clock_and_count_are_the_same_in_every_window():
    u, a = understood("day12")
    near, far = charts(u, a, window=window_of(u, "day")), charts(u, a)
    for name in ("clock", "count"):
        assert near[name].definition == far[name].definition
    assert near["warmth"].definition != far["warmth"].definition
    assert tuple(charts(u, a, only=("water",))) == ("water",)
