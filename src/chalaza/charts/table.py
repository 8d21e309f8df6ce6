"""The twin of a chart: the same numbers as rows."""

from dataclasses import dataclass

Cell = float | str | None


@dataclass(frozen=True, slots=True)
class Column:
    """A head with its unit ("" for words) and the decimals to show. A share is shown in per cent."""

    name: str
    unit: str = ""
    decimals: int = 1


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of plain numbers in SI or trade units (shares 0 to 1); `text` makes them readable."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def head(self) -> tuple[str, ...]:
        """Heads with their units."""
        return tuple(f"{one.name}, {_shown(one.unit)}" if one.unit else one.name for one in self.columns)

    def text(self) -> tuple[tuple[str, ...], ...]:
        """Every cell as text; what is not known is empty."""
        return tuple(
            tuple(_cell(cell, column) for cell, column in zip(row, self.columns, strict=True)) for row in self.rows
        )


def _shown(unit: str) -> str:
    return "%" if unit == "1" else unit


def _cell(cell: Cell, column: Column) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell
    value = cell * 100.0 if column.unit == "1" else cell
    return f"{value:.{column.decimals}f}".replace("-", "−")
