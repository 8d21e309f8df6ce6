"""Files in which the comma divides columns and marks decimals too: `10:00,37,5,55,1`."""

from chalaza.intake.layout import Layout, kind, split
from chalaza.intake.questions import Option, Question


def question(layout: Layout) -> Question:
    """What the keeper is asked, with both readings of the first rows."""
    rows = layout.sample[:3]
    joined = tuple(f"{','.join(row)}  reads as  {' | '.join(_paired(list(row), layout))}" for row in rows)
    apart = tuple(f"{','.join(row)}  reads as  {' | '.join(row)}" for row in rows)
    return Question(
        "decimal-comma",
        "the comma may divide the columns and be the decimal mark as well: which is it?",
        (
            Option("decimal", "both: two numbers belong together", joined),
            Option("separator", "it only divides: every number is whole", apart),
        ),
    )


def _stamps(layout: Layout) -> int:
    return sum(kind(cell) in ("stamp", "date", "time") for cell in layout.sample[0])


def _paired(row: list[str], layout: Layout) -> list[str]:
    stamps = _stamps(layout)
    rest = row[stamps:]
    if len(rest) % 2 and not rest[-1]:
        rest = rest[:-1]
    if len(rest) % 2 or any(cell and not cell.lstrip("+-").isdigit() for cell in rest):
        return row
    pairs = zip(rest[0::2], rest[1::2], strict=True)
    return row[:stamps] + [f"{whole}.{part}" if part else whole for whole, part in pairs]


def rewritten(data: bytes, layout: Layout) -> bytes:
    """`data` with semicolons between columns and decimal points, line for line; rows that do not pair stay as they are."""
    lines = data.decode("utf-8", "replace").split("\n")
    for at, line in enumerate(lines):
        if at < layout.first_data:
            lines[at] = line.replace(",", ";") if at in layout.header else line
        elif line:
            row = split(line, ",")
            paired = _paired(row, layout)
            lines[at] = ";".join(paired) if paired is not row else line
    return "\n".join(lines).encode("utf-8")
