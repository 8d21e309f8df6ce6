"""What tests of pages stand on: a clock that stands still, and the demonstration in the notebook."""

from collections.abc import Mapping

import pytest

from chalaza.records import models as m
from chalaza.records.clock import VARIABLE
from tests.records.demo import NOW, put_all


@pytest.fixture
def stopped(monkeypatch: pytest.MonkeyPatch) -> int:
    """The clock stands at the moment of the demonstration. [seconds UTC]"""
    monkeypatch.setenv(VARIABLE, str(NOW))
    return NOW


@pytest.fixture
def shown(stopped: int, db: None) -> Mapping[str, m.Batch]:
    """The batches of the demonstration by name of their folder, read by a keeper in their zone."""
    batches = put_all(stopped)
    keeper = m.Keeper.objects.the_one()
    m.Keeper.objects.filter(pk=keeper.pk).update(zone="Europe/Berlin")
    return batches
