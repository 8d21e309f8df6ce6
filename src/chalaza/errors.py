"""The errors of Chalaza.

ChalazaError            everything a caller may want to catch
├── OutOfRange          a value outside the span a model or a quantity holds on
├── TableError          a table of facts is wrong (our bug, found when it is loaded)
├── FolderError         an open batch folder is wrong: says file, row, field, what was given, what is allowed
├── ReadingError        a logger file cannot be read at all
├── EvidenceError       evidence that is well formed but cannot be used: no batch, no such kind ...
├── NotebookError       the data folder, a backup or the network cannot be used as asked: says what to do instead
└── BalanceError        a conserved thing was not conserved (our bug)
"""

from typing import Any


class ChalazaError(Exception):
    """Base of all errors raised on purpose."""


class OutOfRange(ChalazaError, ValueError):
    """A value outside the span on which a model holds. Physics raises it and never clamps."""

    def __init__(self, name: str, value: Any, low: float, high: float, unit: str, index: int | None = None) -> None:
        self.name, self.value, self.low, self.high, self.unit, self.index = name, value, low, high, unit, index
        where = "" if index is None else f" at position {index}"
        space = "" if unit in ("", "1") else f" {unit}"
        super().__init__(f"{name} is {value:g}{space}{where}; this model holds from {low:g} to {high:g}{space}")


class TableError(ChalazaError):
    """A table of facts breaks a rule of the loader."""

    def __init__(self, table: str, row: int | None, problem: str) -> None:
        self.table, self.row, self.problem = table, row, problem
        super().__init__(f"{table}{'' if row is None else f', row {row}'}: {problem}")


class FolderError(ChalazaError):
    """An open batch folder that cannot be read as it stands."""

    def __init__(
        self,
        problem: str,
        *,
        file: str = "",
        row: int | None = None,
        field: str = "",
        given: str | None = None,
        allowed: str = "",
    ) -> None:
        self.problem, self.file, self.row, self.field = problem, file, row, field
        self.given, self.allowed = given, allowed
        parts = [file] if file else []
        if row is not None:
            parts.append(f"row {row}")
        if field:
            parts.append(f"field '{field}'")
        where = ", ".join(parts)
        text = f"{where}: {problem}" if where else problem
        if given is not None:
            text += f"; given: {given!r}"
        if allowed:
            text += f"; allowed: {allowed}"
        super().__init__(text)


class ReadingError(ChalazaError):
    """A logger file that holds nothing readable; the text says what was looked for and what to do."""


class EvidenceError(ChalazaError):
    """Evidence that cannot be assessed; the text says what is missing and what to add."""


class NotebookError(ChalazaError):
    """The data folder, a backup or the network cannot be used as asked.

    `text` is a whole sentence with named holes, marked for translation; `holes` fills them.
    """

    def __init__(self, text: str, **holes: object) -> None:
        self.text, self.holes = text, {name: str(value) for name, value in holes.items()}
        super().__init__(text.format_map(self.holes))


class BalanceError(ChalazaError):
    """Something that must be conserved was not: a fault of the program, not of the keeper."""
