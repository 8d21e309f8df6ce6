"""Beliefs as rows of the open folder and back, without loss."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

from chalaza.exchange.problems import Problems
from chalaza.exchange.schema import BELIEFS, CORRELATION
from chalaza.values.beliefs import Belief, BeliefRow, Beliefs, Key, Shape

Numbered = tuple[int, BeliefRow]


def rows_of(beliefs: Beliefs) -> Iterator[BeliefRow]:
    """The beliefs, then their correlations, in the order of the mappings."""
    for number, (key, belief) in enumerate(beliefs.rows.items(), start=1):
        yield _belief_row(f"b{number}", key, belief)
    for number, ((one, other), value) in enumerate(beliefs.correlations.items(), start=1):
        yield BeliefRow(
            uid=f"c{number}",
            subject=one[0],
            quantity=one[1],
            shape=CORRELATION,
            a=value,
            b=0.0,
            unit="1",
            with_subject=other[0],
            with_quantity=other[1],
        )


def _belief_row(uid: str, key: Key, belief: Belief) -> BeliefRow:
    return BeliefRow(
        uid=uid,
        subject=key[0],
        quantity=key[1],
        shape=str(belief.shape),
        a=belief.a,
        b=belief.b,
        unit=belief.unit,
        scale=belief.scale,
        origin=belief.origin,
        sources=" ".join(belief.sources),
    )


def check(numbered: Iterable[Numbered], problems: Problems) -> None:
    """Take down what is wrong between the cells of a row and between rows."""
    known: dict[Key, int] = {}
    pairs: dict[tuple[Key, Key], float] = {}
    correlations: list[Numbered] = []
    for number, row in numbered:
        if row.shape == CORRELATION:
            correlations.append((number, row))
            continue
        key = (row.subject, row.quantity)
        if key in known:
            problems.add(
                f"a second belief about it; the first is row {known[key]}",
                file=BELIEFS.file,
                row=number,
                field="quantity",
                given=row.quantity,
                allowed="one row for each subject and quantity",
            )
        known.setdefault(key, number)
        _check_numbers(number, row, problems)
    for number, row in correlations:
        _check_correlation(number, row, known, problems)
        one, other = _pair(row)
        if (one, other) in pairs or pairs.get((other, one), row.a) != row.a:
            problems.add("a second correlation of the same two", file=BELIEFS.file, row=number, field="subject")
        pairs[one, other] = row.a


def _check_numbers(number: int, row: BeliefRow, problems: Problems) -> None:
    if row.shape == Shape.BETA and not (row.a > 0 and row.b > 0):
        field, given = ("a", row.a) if row.a <= 0 else ("b", row.b)
        problems.add(
            "counts of a Beta must be positive",
            file=BELIEFS.file,
            row=number,
            field=field,
            given=f"{given!r}",
            allowed="number above 0",
        )
    if row.shape == Shape.NORMAL and row.b < 0:
        problems.add(
            "a spread cannot be negative",
            file=BELIEFS.file,
            row=number,
            field="b",
            given=f"{row.b!r}",
            allowed="number from 0",
        )
    if row.with_subject or row.with_quantity:
        problems.add(
            "only a correlation speaks of a second belief",
            file=BELIEFS.file,
            row=number,
            field="with_subject",
            given=row.with_subject,
            allowed="empty, or shape correlation",
        )


def _check_correlation(number: int, row: BeliefRow, known: Mapping[Key, int], problems: Problems) -> None:
    if not -1.0 <= row.a <= 1.0:
        problems.add(
            "outside what can be true",
            file=BELIEFS.file,
            row=number,
            field="a",
            given=f"{row.a!r}",
            allowed="correlation from -1 to 1",
        )
    for field, key in zip(("subject", "with_subject"), _pair(row), strict=True):
        if key not in known:
            problems.add(
                "a correlation with a belief that is not in the file",
                file=BELIEFS.file,
                row=number,
                field=field,
                given=" ".join(key),
                allowed="subject and quantity of another row",
            )


def _pair(row: BeliefRow) -> tuple[Key, Key]:
    return (row.subject, row.quantity), (row.with_subject, row.with_quantity)


def beliefs_of(rows: Sequence[BeliefRow]) -> Beliefs:
    """The beliefs of rows that passed `check`."""
    beliefs = {(row.subject, row.quantity): _belief(row) for row in rows if row.shape != CORRELATION}
    correlations = {_pair(row): row.a for row in rows if row.shape == CORRELATION}
    return Beliefs(MappingProxyType(beliefs), MappingProxyType(correlations))


def check_kept(beliefs: Beliefs, numbered: Sequence[Numbered], problems: Problems) -> None:
    """Take down beliefs that their rows, sound as they are, would not give again: sources that run together."""
    again = beliefs_of([row for _, row in numbered])
    for (key, belief), (number, row) in zip(beliefs.rows.items(), numbered, strict=False):
        if again[key] != belief:
            problems.add(
                "cannot be written without loss",
                file=BELIEFS.file,
                row=number,
                field="sources",
                given=row.sources,
                allowed="keys without blanks",
            )


def _belief(row: BeliefRow) -> Belief:
    return Belief(
        shape=Shape(row.shape),
        a=row.a,
        b=row.b,
        unit=row.unit,
        scale=row.scale,
        origin=row.origin,
        sources=tuple(row.sources.split()),
    )
