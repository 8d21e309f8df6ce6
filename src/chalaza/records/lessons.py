"""Having lessons learnt by the worker: a page does not wait until a dozen ended batches are understood anew."""

from chalaza.records import beliefs, clock, work
from chalaza.records import models as m

#: If the worker has not begun after so long it may not run at all: then a page learns by itself. [s]
PATIENCE_S = 60


def by_worker(name: str) -> bool:
    """Ask the worker to learn what is known by `name`, once; whether it is still to come."""
    asked = work.ask("learn", {}, m.Keeper.objects.the_one(), uid=f"learn-{name}")
    return asked.state in work.OPEN and clock.now() - asked.asked < PATIENCE_S


def learn_elsewhere() -> None:
    """Called where pages are served: lessons are learnt by the worker from now on."""
    beliefs.elsewhere = by_worker
