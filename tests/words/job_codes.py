"""The codes of jobs and the figures of each, read off the source of the modules that find them; and a job of every code."""

import ast
import inspect
import re
from functools import cache

from tests.words.codes import SET_AT, estimate

from chalaza.decide import asks, care, hatching, looks
from chalaza.decide.job import Job, When
from chalaza.decide.measure import MINUTES
from chalaza.values.advice import Advice, Level
from chalaza.values.estimate import Figure, figures
from chalaza.words.advice import BAND
from chalaza.words.jobs import FIGURES

CODE = re.compile(r"job\.[a-z_]+")
_WIDTHS = ("hatch", "loss", "young")


@cache
def job_figures() -> dict[str, frozenset[str]]:
    """Code -> names of the figures its `says` call passes. Offers have a code for each check and width."""
    found: dict[str, frozenset[str]] = {}
    for module in (asks, care, hatching, looks):
        for function in (n for n in ast.walk(ast.parse(inspect.getsource(module))) if isinstance(n, ast.FunctionDef)):
            for call in (n for n in ast.walk(function) if isinstance(n, ast.Call) and _is_says(n)):
                keys = frozenset(k.arg for k in call.keywords if k.arg)
                for code in _codes(call.args[0], function):
                    assert found.setdefault(code, keys) == keys, code
    for check in MINUTES:
        for width in _WIDTHS:
            found[f"job.{check}.{width}"] = frozenset({f"{width}_before", f"{width}_after"})
    return found


def _is_says(call: ast.Call) -> bool:
    return isinstance(call.func, ast.Name) and call.func.id == "says"


def _codes(node: ast.expr, function: ast.FunctionDef) -> set[str]:
    if isinstance(node, ast.JoinedStr):  # an offer: f"{code}.hatch"
        return set()
    where: list[ast.AST] = [node]
    if isinstance(node, ast.Name):
        where = [
            n.value
            for n in ast.walk(function)
            if isinstance(n, ast.Assign) and isinstance(n.targets[0], ast.Name) and n.targets[0].id == node.id
        ]
    found = {
        n.value
        for one in where
        for n in ast.walk(one)
        if isinstance(n, ast.Constant) and isinstance(n.value, str) and CODE.fullmatch(n.value)
    }
    assert found, ast.unparse(node)
    return found


_SAMPLES: dict[str, Figure] = {
    "moment": estimate(SET_AT + 86_400 * 9.3, 46_800, "epoch_s"),
    "day": 7.0,
    "table": "Needs none.",
    "loss": estimate(0.1211, 0.004, "1"),
    "text": "A3, A4",
    "times": 4.2,
    "share": estimate(0.9, 0.06, "1"),
    "humidity": estimate(0.53, 0.04, "1"),
    "hours": 24.0,
    "half:hours": 21.0,
    "half:loss": 0.012,
    "half:young": 3.4,
}


def sample(code: str, n: int = 12, **changes: Figure) -> Job:
    """A job of that code with plausible figures; counts are `n`."""
    given: dict[str, Figure] = {}
    for name in job_figures()[code]:
        style = FIGURES.get(name, "")
        figure = {"low": 0.11, "high": 0.135}.get(name)
        given[name] = figure if figure is not None else n if style == "count" else _SAMPLES[style]
    given |= changes
    assert set(BAND) & given.keys() in (set(), set(BAND))
    advice = Advice(code, Level.WATCH, figures(**given), "practice")
    what = code.split(".")[1]
    return Job(key=f"b/{what}/1", batch="b", code=code, level=advice.level, due=SET_AT, advice=advice, when=When.TODAY)
