"""What a sheet of paper costs: the card of air cells for 24 eggs, laid out, set and written as PDF.

    PYTHONPATH=src python bench bench_sheets

The batch is that of `bench_charts`. The first card of a process loads the compiler and its letters; a card after a change
of the records has other figures, so each timed one is set anew with a moment of its own. Bounds are seconds, and MB of
memory that the compiler adds to the process that holds it.
"""

import os
from dataclasses import replace
from itertools import count
from time import perf_counter

import psutil

from bench_charts import DAY_S, DAYS, SET_AT, _batch
from chalaza.assess import prior_beliefs, read, understand
from chalaza.sheets import pdf, pictures
from chalaza.sheets.air_cell import By, card, laid
from chalaza.words import Voice
from row import Row, best

FIRST_S, WARM_S, MEMORY_MB = 1.0, 0.5, 80.0


def _megabytes() -> float:
    return float(psutil.Process(os.getpid()).memory_info().rss) / 2**20


def rows() -> list[Row]:
    """First and later cards, both ways of drawing, and a picture of one."""
    evidence = _batch()
    u = understand(prior_beliefs("chicken"), evidence, SET_AT + DAYS * DAY_S)
    a = read(u, evidence)
    moments = count(SET_AT)

    def anew(by: By) -> bytes:
        return card(u, replace(a, as_of=a.as_of + next(moments) % 86_400), Voice(), by=by)

    before, began = _megabytes(), perf_counter()
    anew(By.SIZE)
    first = perf_counter() - began
    found = [
        Row("card, the first of a process", first, FIRST_S, "s"),
        Row("card by size, 24 eggs", best(lambda: anew(By.SIZE)), WARM_S, "s"),
        Row("card by egg, 24 outlines", best(lambda: anew(By.EGG)), WARM_S, "s"),
        Row("pictures of a card, 144 ppi", best(lambda: pictures(laid(u, a, Voice()))), WARM_S, "s"),
    ]
    made = laid(u, a, Voice())
    for _ in range(50):
        pdf(replace(made, at=next(moments)))
    return [*found, Row("memory after some fifty cards", _megabytes() - before, MEMORY_MB, "MB")]


if __name__ == "__main__":
    for row in rows():
        print(f"{row.name:<44} {row.ratio:>8.3f} {row.unit:<12} {row.bound:>6.3g}  {'ok' if row.ok else 'TOO SLOW'}")
