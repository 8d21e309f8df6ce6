"""The demonstration as a notebook: alive for two days, and never in a keeper's own folder."""

from pathlib import Path

import pytest
from django.conf import LazySettings

from chalaza.errors import ChalazaError
from chalaza.records import answers, filling, gather, home, invented
from chalaza.records import models as m
from chalaza.values.advice import Level

from .demo import NOW


@pytest.fixture
def marked(settings: LazySettings, tmp_path: Path) -> Path:
    settings.HOME = tmp_path
    invented.mark(tmp_path, NOW, whole=False)
    return tmp_path


@pytest.mark.django_db
def test_the_probes_go_on_telling_after_it_was_made(marked: Path) -> None:
    filling.fill(NOW)
    hens = m.Batch.objects.get(name="Speckled hens")
    first = answers.of(hens.uid, NOW).assessment
    later = answers.of(hens.uid, NOW + 36 * 3600).assessment
    assert later.warmth.covered >= first.warmth.covered - 0.01
    assert later.clock.age_d.value > first.clock.age_d.value + 1.0
    assert not any(one.code == "warmth.gaps" and one.level > Level.WATCH for one in later.advice)


@pytest.mark.django_db
def test_nothing_but_readings_lies_ahead(marked: Path) -> None:
    filling.fill(NOW)
    for batch in m.Batch.objects.all():
        one = gather.evidence(batch.uid)
        for part in (one.weighings, one.candlings, one.hatches, one.breakouts, one.notes, one.events):
            assert all(row.at <= NOW for row in part)


@pytest.mark.django_db
def test_it_opens_with_something_worth_doing_and_with_forecasts_of_earlier_days(marked: Path) -> None:
    filling.fill(NOW)
    kept = [answers.newest(batch.uid) for batch in m.Batch.objects.all()]
    asked = {one.code for found in kept if found for one in found.assessment.advice if one.level >= Level.WATCH}
    assert {"count.candle"} < asked
    assert m.Forecast.objects.filter(batch="hens-batch").count() >= 4


@pytest.mark.django_db
def test_a_notebook_that_is_no_demonstration_is_never_filled(settings: LazySettings, tmp_path: Path) -> None:
    settings.HOME = tmp_path
    with pytest.raises(ChalazaError, match="of its own"):
        filling.fill(NOW)


def test_a_folder_without_the_mark_is_never_cleared(tmp_path: Path) -> None:
    (tmp_path / "notebook.db").write_bytes(b"a keeper's own")
    with pytest.raises(ChalazaError, match="left as it is"):
        invented.clear(tmp_path)
    assert (tmp_path / "notebook.db").read_bytes() == b"a keeper's own"


def test_it_is_made_anew_when_old_half_made_or_of_another_version(tmp_path: Path) -> None:
    assert not invented.is_fresh(tmp_path, NOW)
    invented.clear(tmp_path)
    assert not invented.is_fresh(tmp_path, NOW)
    invented.mark(tmp_path, NOW, whole=True)
    assert invented.is_fresh(tmp_path, NOW + 3600)
    assert not invented.is_fresh(tmp_path, NOW + invented.STALE_S)
    (tmp_path / home.INVENTED).write_text("{", encoding="utf-8")
    assert not invented.is_fresh(tmp_path, NOW)
