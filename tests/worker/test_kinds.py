"""Kinds of work: each has its function, and what pages and records ask for is known here."""

import ast
from pathlib import Path

import pytest

import chalaza
from chalaza.errors import BalanceError
from chalaza.records import logs
from chalaza.worker.kinds import KINDS, resolved
from chalaza.worker.loop import HOUSEWORK

_PACKAGE = Path(chalaza.__file__).parent


@pytest.mark.parametrize("kind", list(KINDS))
def test_each_kind_has_its_function_and_its_limits(kind: str) -> None:
    assert callable(resolved(KINDS[kind].function))
    assert 1.0 <= KINDS[kind].wall_s <= 3600.0
    assert 100.0 <= KINDS[kind].memory_mb <= 1000.0


@pytest.mark.parametrize("function", ["chalaza.worker.logs:none", "chalaza.worker.none:x", "chalaza"])
def test_a_function_that_is_not_there_is_our_bug_and_named(function: str) -> None:
    with pytest.raises(BalanceError, match=function):
        resolved(function)


def _asked(folder: str) -> set[str]:
    """Kinds written out where work is asked for: `work.ask("kind", ...)`."""
    found = set()
    for path in (_PACKAGE / folder).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "work.ask":
                kind = node.args[0]
                found.add(str(kind.value) if isinstance(kind, ast.Constant) else ast.unparse(kind))
    return found


def test_what_is_asked_for_is_known_by_name() -> None:
    named = {"IMPORT": logs.IMPORT}
    wanted = {named.get(kind, kind) for folder in ("records", "pages") for kind in _asked(folder)}
    assert wanted
    assert wanted <= set(KINDS)
    assert set(HOUSEWORK) <= set(KINDS)
