"""Answers as JSON: whole, generic, with ISO 8601 moments and the sentences beside the figures."""

import json
from datetime import datetime
from typing import Any

import numpy as np
import pytest
from tests.factory import NOW, make_evidence

from chalaza.assess import assess, prior_beliefs
from chalaza.values.advice import Level
from chalaza.values.estimate import Band, Basis, Estimate
from chalaza.words import jsonable
from chalaza.words.numbers import Voice


@pytest.fixture(scope="module")
def answer() -> dict[str, Any]:
    """The small invented batch as JSON and back."""
    a = assess(prior_beliefs("chicken"), make_evidence(), NOW)
    found: dict[str, Any] = json.loads(json.dumps(jsonable.assessment(Voice(), a), allow_nan=False))
    return found


def estimates(value: Any, path: str = "") -> list[tuple[str, dict[str, Any]]]:
    """Every `{value, low, high, unit, basis}` below `value`, with its path."""
    if isinstance(value, dict):
        own = [(path, value)] if {"value", "low", "high", "unit", "basis"} <= set(value) else []
        return own + [found for key, item in value.items() for found in estimates(item, f"{path}.{key}")]
    if isinstance(value, list):
        return [found for i, item in enumerate(value) for found in estimates(item, f"{path}[{i}]")]
    return []


def test_the_four_answers_have_their_keys(answer: dict[str, Any]) -> None:
    assert {"warmth", "water", "clock", "count", "advice", "measure_next", "set_at", "as_of", "zone", "kind"} <= set(
        answer
    )
    assert {"loss_now", "loss_at_lockdown", "rh_to_run", "wanted", "sentence"} <= set(answer["water"])
    assert {"age_d", "stop_turning", "first_pip", "half_hatched", "last_hatch", "sentence"} <= set(answer["clock"])
    assert {"fertile", "alive", "expected_young", "sentence"} <= set(answer["count"])
    assert {"shell", "shell_now", "air", "centre", "delay_h", "sentence"} <= set(answer["warmth"])


def test_every_estimate_is_in_order_and_says_where_it_comes_from(answer: dict[str, Any]) -> None:
    found = estimates(answer)
    assert len(found) > 30
    for path, one in found:
        if one["unit"] == "time":
            low, value, high = (datetime.fromisoformat(one[key]) for key in ("low", "value", "high"))
            assert low.utcoffset() is not None, path
            assert low <= value <= high, path
        else:
            assert one["low"] <= one["value"] <= one["high"], path
        assert set(one["basis"]) == {"method", "inputs", "sources"}, path
        assert one["unit"] != "epoch_s", path


def test_moments_keep_their_instant_in_the_offset_of_the_batch(answer: dict[str, Any]) -> None:
    # 2026-03-01 08:00 UTC in winter time: one hour ahead.
    assert answer["set_at"] == "2026-03-01T09:00:00+01:00"
    assert datetime.fromisoformat(answer["as_of"]).timestamp() == NOW


def test_advice_has_code_level_figures_and_sentences(answer: dict[str, Any]) -> None:
    for one in answer["advice"]:
        assert {"code", "level", "figures", "source", "what", "do", "because", "cautions"} == set(one)
        assert one["level"] in ("good", "watch", "act", "now")
        assert "\u00a0" not in one["what"] + one["do"] + one["because"]
    for one in answer["measure_next"]:
        assert {"code", "minutes", "score", "do", "how", "narrows", "hatch_before_h", "hatch_after_h"} <= set(one)


def test_scalars_of_numpy_become_plain_ones() -> None:
    assert jsonable.jsonable({"a": np.bool_(False), "b": np.float32(0.5), "c": np.int64(3)}, "UTC") == {
        "a": False,
        "b": 0.5,
        "c": 3,
    }


def test_moments_and_levels_have_their_own_form() -> None:
    one = Estimate(3600.0, 0.0, 7200.0, "epoch_s", Basis("clock"))
    assert jsonable.jsonable(one, "UTC")["value"] == "1970-01-01T01:00:00+00:00"
    assert (
        jsonable.jsonable(Band(low=0.0, typical=60.0, high=120.0, unit="epoch_s"), "UTC")["typical"]
        == "1970-01-01T00:01:00+00:00"
    )
    assert jsonable.jsonable(Level.NOW, "UTC") == "now"
    assert jsonable.jsonable(((0.0, 60.0),), "UTC", name="gaps") == [
        ["1970-01-01T00:00:00+00:00", "1970-01-01T00:01:00+00:00"]
    ]


def test_what_has_no_form_is_refused() -> None:
    with pytest.raises(TypeError, match="object has no form in JSON"):
        jsonable.jsonable(object(), "UTC")
