"""The codes of advice and the figures of each, read off the source of `decide.advise`; and an advice of every code."""

import ast
import inspect
import re
from functools import cache

from chalaza.decide import advise
from chalaza.values.advice import Advice, Level
from chalaza.values.estimate import Basis, Estimate, Figure, figures
from chalaza.words.advice import BAND, FIGURES

CODE = re.compile(r"(warmth|water|clock|count)\.[a-z_]+")
SET_AT = 1_776_000_000
_BASIS = Basis("exposure", ("readings",), ("judgement",))


def all_codes() -> set[str]:
    """Every string in the module that is a code."""
    tree = ast.parse(inspect.getsource(advise))
    return {
        n.value
        for n in ast.walk(tree)
        if isinstance(n, ast.Constant) and isinstance(n.value, str) and CODE.fullmatch(n.value)
    }


@cache
def code_figures() -> dict[str, frozenset[str]]:
    """Code -> names of the figures its `_give` call passes; a name shared by two calls must agree."""
    tree = ast.parse(inspect.getsource(advise))
    functions = [n for n in tree.body if isinstance(n, ast.FunctionDef)]
    commons = {f.name: _common(f) for f in functions}
    commons["_run"] = commons["_weigh"] = commons["_water"]  # handed over as an argument
    found: dict[str, frozenset[str]] = {}
    for function in functions:
        names = _assigned(function)
        for call in (n for n in ast.walk(function) if isinstance(n, ast.Call) and _is_give(n)):
            keys = {k.arg for k in call.keywords if k.arg} | (
                commons[function.name] if any(k.arg is None for k in call.keywords) else set()
            )
            for code in _codes_of(call.args[0], names):
                assert found.setdefault(code, frozenset(keys)) == frozenset(keys), code
    return found


def _is_give(call: ast.Call) -> bool:
    return isinstance(call.func, ast.Name) and call.func.id == "_give"


def _strings(node: ast.AST) -> set[str]:
    return {
        n.value
        for n in ast.walk(node)
        if isinstance(n, ast.Constant) and isinstance(n.value, str) and CODE.fullmatch(n.value)
    }


def _codes_of(node: ast.expr, names: dict[str, list[ast.expr]]) -> set[str]:
    if isinstance(node, ast.Name):
        before = [value for value in names.get(node.id, []) if value.lineno < node.lineno]
        return _codes_of(before[-1], names) if before else set()
    if isinstance(node, ast.IfExp):
        return _codes_of(node.body, names) | _codes_of(node.orelse, names)
    return _strings(node)


def _assigned(function: ast.FunctionDef) -> dict[str, list[ast.expr]]:
    found: dict[str, list[ast.expr]] = {}
    for n in sorted(ast.walk(function), key=lambda n: getattr(n, "lineno", 0)):
        if isinstance(n, ast.Assign) and isinstance(n.targets[0], ast.Name):
            found.setdefault(n.targets[0].id, []).append(n.value)
    return found


def _common(function: ast.FunctionDef) -> set[str]:
    for n in ast.walk(function):
        if isinstance(n, ast.AnnAssign) and isinstance(n.target, ast.Name) and n.target.id == "common":
            assert isinstance(n.value, ast.Dict)
            return {key.value for key in n.value.keys if isinstance(key, ast.Constant)}
    return set()


def estimate(value: float, half: float, unit: str) -> Estimate:
    """An estimate about `value`."""
    return Estimate(value, value - half, value + half, unit, _BASIS)


_SAMPLES: dict[str, Figure] = {
    "temperature": estimate(37.71, 1.06, "°C"),
    "step": 0.2,
    "change": estimate(0.41, 0.12, "K"),
    "moment": estimate(SET_AT + 86_400 * 9.3, 46_800, "epoch_s"),
    "share": estimate(0.9, 0.06, "1"),
    "loss": estimate(0.1211, 0.004, "1"),
    "humidity": estimate(0.53, 0.04, "1"),
    "hours": 5.2,
    "count": 12,
    "times": 4.2,
    "lag": estimate(4.2, 16.0, "h"),
    "day": 7.0,
    "text": "A3",
}


def sample(code: str, n: int = 12) -> Advice:
    """An advice of that code with plausible figures; counts are `n`."""
    given: dict[str, Figure] = {}
    for name in code_figures()[code]:
        style = "temperature" if code.startswith("warmth") else "loss"
        figure = {"low": 37.4, "high": 38.0} if style == "temperature" else {"low": 0.11, "high": 0.135}
        given[name] = figure[name] if name in BAND else n if FIGURES[name] == "count" else _SAMPLES[FIGURES[name]]
    return Advice(code, Level.WATCH, figures(**given), "practice")
