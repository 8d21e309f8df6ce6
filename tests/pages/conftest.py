"""What tests of pages stand on: a clock that stands still, and the demonstration in the notebook, assessed once."""

from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from django.db import transaction
from tests.records.demo import NOW, put_all

from chalaza.records import answers
from chalaza.records import models as m
from chalaza.records.clock import VARIABLE


@pytest.fixture
def stopped(monkeypatch: pytest.MonkeyPatch) -> int:
    """The clock stands at the moment of the demonstration. [seconds UTC]"""
    monkeypatch.setenv(VARIABLE, str(NOW))
    return NOW


@pytest.fixture(scope="module")
def _shown(django_db_setup: None, django_db_blocker: Any) -> Iterator[Mapping[str, str]]:
    """The demonstration, put in once for all tests of a module: each test works in a transaction within this one."""
    with django_db_blocker.unblock(), transaction.atomic():
        batches = put_all(NOW)
        keeper = m.Keeper.objects.the_one()
        m.Keeper.objects.filter(pk=keeper.pk).update(zone="Europe/Berlin")
        answers.forget()
        for one in batches.values():
            answers.of(one.uid, NOW)
        yield {name: one.uid for name, one in batches.items()}
        transaction.set_rollback(True)


@pytest.fixture
def shown(_shown: Mapping[str, str], stopped: int, db: None) -> Mapping[str, m.Batch]:
    """The batches of the demonstration by name of their folder, assessed now, read by a keeper in their zone."""
    return {name: m.Batch.objects.get(uid=uid) for name, uid in _shown.items()}


@pytest.fixture
def unknown(shown: Mapping[str, m.Batch]) -> Mapping[str, m.Batch]:
    """The same, and nothing was ever assessed."""
    m.Answer.objects.all().delete()
    m.Forecast.objects.all().delete()
    return shown


@pytest.fixture
def empty(stopped: int, db: None) -> None:
    """An empty notebook, also where other tests of the module have the demonstration in theirs."""
    for model in m.Act._meta.apps.get_app_config("records").get_models():
        if model is not m.Keeper:
            model._default_manager.all()._raw_delete(using="default")  # type: ignore[attr-defined]
