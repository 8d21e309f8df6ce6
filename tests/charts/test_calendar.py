from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from chalaza.charts import calendar as module
from chalaza.charts.calendar import calendar, strip
from chalaza.charts.forecast import Forecasted
from chalaza.values.estimate import Estimate
from chalaza.words.language import OPEN, pseudo
from charts.cases import understood
from charts.drawings import curve, legible, paths, sound
from charts.reading import SVG
from factory import DAY_S, SET_AT

NOW = SET_AT + 12 * DAY_S
BERLIN = ZoneInfo("Europe/Berlin")


def strips():
    running = strip(understood("day12")[1])
    later = replace(running, name="Ducks", set_at=SET_AT + 11 * DAY_S, stops=SET_AT + 36.0 * DAY_S, half=_moved(running.half, 18.0),
                    last_out=_moved(running.last_out, 18.0))  # fmt: skip
    over = replace(strip(understood("after")[1]), name="Quail", set_at=SET_AT - 12 * DAY_S)
    over = replace(
        over, stops=over.stops - 15 * DAY_S, half=_moved(over.half, -14.0), last_out=_moved(over.last_out, -14.0)
    )
    return [running, over, later]


def _moved(one: Estimate, days: float) -> Estimate:
    return replace(one, value=one.value + days * DAY_S, low=one.low + days * DAY_S, high=one.high + days * DAY_S)


def nows(svg: str) -> set[str]:
    """Where the line of now stands."""
    return {
        d.split(" ")[0]
        for d in paths(svg, stroke="var(--ink)", stroke_width="1.5")
        if "V" in d and "C" not in d and "Q" not in d
    }


@pytest.mark.parametrize("width", [350, 920])
def test_every_batch_has_a_sound_drawing_on_one_scale(width):
    drawn = calendar(strips(), NOW, width, zone="Europe/Berlin")
    assert len(drawn) == 3
    for i, svg in enumerate(drawn):
        root = sound(svg)
        assert root.get("width") == str(width)
        assert float(root.get("height")) == module.HEIGHT + (module.HEAD if i == 0 else 0)
        legible(svg)
    assert len(set.union(*map(nows, drawn))) == 1


def test_weeks_begin_on_monday_and_are_named_on_the_first_drawing_only():
    first, *rest = calendar(strips(), NOW, 920, zone="Europe/Berlin")
    # SET_AT is Sunday, 1 March 2026; the quail were set on 17 February, a Tuesday.
    names = legible(first)
    assert names[:3] == ["16 Feb", "23", "2 Mar"]
    assert "6 Apr" in names
    assert all(legible(svg) == [] for svg in rest)
    weeks = module._weeks(strips(), NOW, BERLIN, 920.0)
    assert all(datetime.fromtimestamp(one, UTC).astimezone(BERLIN).weekday() == 0 for one in weeks.mondays)
    assert weeks.mondays[0] <= min(one.set_at for one in strips())
    assert weeks.mondays[-1] >= max(one.half.high for one in strips())


def test_where_names_are_left_out_the_month_is_still_told():
    names = legible(calendar(strips(), NOW, 350, zone="Europe/Berlin")[0])
    assert next(name for name in names if " " in name).endswith(("Feb", "Mar"))
    assert any(name.endswith("Mar") for name in names)
    assert any(name.endswith("Apr") for name in names)


def test_a_running_batch_has_its_yolk_and_a_hatched_one_is_solid():
    running, over, _ = calendar(strips(), NOW, 920)
    assert [one.get("fill") for one in sound(running).iter(f"{SVG}circle")] == ["var(--yolk)"]
    assert list(sound(over).iter(f"{SVG}circle")) == []
    grounds = [one.get("fill-opacity") for one in sound(over).iter(f"{SVG}path") if one.get("fill") == "var(--ink)"]
    assert grounds == [None]


def test_a_strip_is_as_long_as_the_batch_on_the_common_scale():
    weeks = module._weeks(strips(), NOW, BERLIN, 920.0)
    for one, svg in zip(strips(), calendar(strips(), NOW, 920, zone="Europe/Berlin"), strict=True):
        strands = [curve(d) for d in paths(svg) if "Q" in d]
        assert min(s[:, 0].min() for s in strands) == pytest.approx(weeks.px(one.set_at), abs=0.06)
        assert max(s[:, 0].max() for s in strands) == pytest.approx(weeks.px(one.stops), abs=0.06)


def test_the_first_forecast_is_dashed_where_it_is_given():
    one = strips()[0]
    first = Forecasted(SET_AT, replace(one.half, low=one.half.low - 40_000.0, high=one.half.high + 40_000.0))
    (svg,) = calendar([replace(one, first=first)], NOW)
    assert len([d for d in paths(svg, stroke_dasharray="5 4") if "C" in d]) == 1


def test_each_drawing_says_what_it_shows():
    said = [sound(svg).get("aria-label") for svg in calendar(strips(), NOW, 920, zone="Europe/Berlin")]
    assert said[0].startswith(f"{understood('day12')[1].name}: set Sun 1, 09:00, turning until Thu 19, ")
    assert "; half out between Sun 22, " in said[0]
    assert "hatched; half were out" in said[1]
    assert said[2].startswith("Ducks: set Thu 12, 09:00, turning until ")


def test_turning_that_was_ended_is_told_as_past():
    _, a = understood("hatching")
    one = strip(a, stopped=SET_AT + 17 * DAY_S)
    assert one.stops == SET_AT + 17 * DAY_S
    (svg,) = calendar([one], a.as_of, zone="Europe/Berlin")
    assert "turned until Wed 18, 09:00" in sound(svg).get("aria-label")


def test_no_batch_is_no_drawing_and_no_word_is_left_in_english():
    assert calendar([], NOW) == ()
    svg = calendar(strips(), NOW, 920, say=pseudo)[0]
    assert sound(svg).get("aria-label").startswith(OPEN)
    assert all(OPEN in word or word.isdigit() for word in legible(svg))
