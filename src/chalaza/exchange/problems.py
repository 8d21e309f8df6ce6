"""What is wrong with a folder, gathered: a keeper mends ten cells in one go rather than meeting them one by one."""

from chalaza.errors import FolderError

MOST = 20
_SHOWN = 60


class FolderErrors(FolderError):
    """Several faults of one folder, one a line; the fields are those of the first, `problems` holds them all."""

    def __init__(self, problems: tuple[FolderError, ...], more: bool) -> None:
        first = problems[0]
        super().__init__(
            first.problem,
            file=first.file,
            row=first.row,
            field=first.field,
            given=first.given,
            allowed=first.allowed,
        )
        self.problems = problems
        last = [f"There may be more: the first {MOST} are listed."] if more else []
        self.args = ("\n".join([*(str(problem) for problem in problems), *last]),)


class Problems:
    """A gatherer of faults: `add` raises when it is full, `settle` when it holds any."""

    def __init__(self) -> None:
        self._found: list[FolderError] = []

    def add(
        self,
        problem: str,
        *,
        file: str,
        row: int | None = None,
        field: str = "",
        given: str | None = None,
        allowed: str = "",
    ) -> None:
        """Take down one fault. Raises `FolderErrors` with all of them at the twentieth."""
        shown = given if given is None or len(given) <= _SHOWN else given[:_SHOWN] + "…"
        self._found.append(FolderError(problem, file=file, row=row, field=field, given=shown, allowed=allowed))
        if len(self._found) >= MOST:
            raise FolderErrors(tuple(self._found), more=True)

    def settle(self) -> None:
        """Raise what was found: the fault itself if it is one, `FolderErrors` if there are several."""
        if len(self._found) == 1:
            raise self._found[0]
        if self._found:
            raise FolderErrors(tuple(self._found), more=False)
