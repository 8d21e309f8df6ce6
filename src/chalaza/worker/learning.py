"""Learning from ended batches: done by the worker where a page would have to wait for it."""

from collections.abc import Mapping
from typing import Any

from chalaza.records import beliefs
from chalaza.records import models as m
from chalaza.records.work import Outcome
from chalaza.words.language import mark
from chalaza.worker.kinds import Progress

_LEARNING = mark("learning from ended batches")


def learn(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Bring all lessons up to date. They are a cache: what is learnt before the work is stopped stays learnt."""
    progress(0.0, _LEARNING)
    beliefs.refresh()
    return Outcome({"lessons": m.Lesson.objects.count()})
