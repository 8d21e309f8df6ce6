"""Run the parts of `make test` one after the other and hold them against their budget.

    python tools/run_parts.py [part ...]

Every part runs, also after one that failed. A part over its budget is marked; the run fails when a step fails, or when
all parts together take longer than all budgets together. Closing lines of pytest are repeated at the end.
"""

import os
import re
import shlex
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
BIN = Path(sys.executable).parent
#: Lines and branches of the program that the tests must run through. [%]
FLOOR = 95


def _tool(words: str) -> list[str]:
    name, *rest = shlex.split(words)
    return [str(BIN / name), *rest]


def _pytest(words: str, *, counted: bool = False) -> list[str]:
    """A run of pytest; `counted` adds what it ran through to the coverage of the code."""
    cov = ["--cov", "--cov-append", "--cov-report="] if counted else []
    return [sys.executable, "-m", "pytest", *cov, *shlex.split(words)]


def _sphinx(builder: str) -> list[str]:
    return _tool(f"sphinx-build -q -W --keep-going -c docs -b {builder} docs/manual docs/_build/{builder}")


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the tests: its name, its budget in seconds, its steps in order."""

    name: str
    budget_s: float
    steps: tuple[list[str], ...]


_TREE = "tests/test_house.py tests/test_documents.py"
_MANUAL = "tests/test_wheel.py tests/test_manual.py"
_REST = " ".join(f"--ignore={path}" for path in f"{_TREE} {_MANUAL}".split())
_CHECKS = (
    _tool("ruff format --check -q"),
    _tool("ruff check -q"),
    _tool("mypy --no-error-summary"),
    _tool("mypy --no-error-summary tools bench docs"),
    _tool("lint-imports --no-logo"),
    _pytest(_TREE),
)
_NOTEBOOK = "tests -n2 -m 'database and not browser and not logs'"
PARTS = (
    Part("checks", 60.0, _CHECKS),
    Part(
        "core",
        150.0,
        (_pytest(f"tests -n2 -m 'not coverage and not logs and not database and not browser' {_REST}", counted=True),),
    ),
    Part("coverage", 60.0, (_pytest("tests -n2 -m 'coverage'"),)),
    Part("logs", 40.0, (_pytest("tests -n2 -m 'logs'", counted=True),)),
    Part("notebook", 60.0, (_pytest(_NOTEBOOK, counted=True),)),
    Part("postgresql", 60.0, ([sys.executable, "tools/with_postgresql.py", *_pytest(_NOTEBOOK)],)),
    Part("browser", 120.0, (["sh", "tools/browser.sh"], _pytest("tests -m 'browser'"))),
    Part("manual", 60.0, (_sphinx("html"), _sphinx("doctest"), _pytest(f"-n2 --dist loadfile {_MANUAL}"))),
)
ENVIRONMENT_S = 90.0
_CLOSING = re.compile(r"=*\s*(\d+ (?:passed|failed|error|skipped|deselected|xfailed|warning).* in [\d.]+s.*?)\s*=*")
Row = tuple[str, float, float, str]


def _run(step: list[str]) -> tuple[int, str]:
    """Run one step, showing what it says as it says it; its return code and the closing line of pytest, if any."""
    closing = ""
    with subprocess.Popen(step, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as child:
        for line in child.stdout or ():
            print(line, end="", flush=True)
            found = _CLOSING.fullmatch(line.strip())
            closing = found[1] if found else closing
    return child.returncode, closing


def _part(part: Part) -> tuple[Row, bool]:
    """One part: its row of the table, and whether all its steps held."""
    print(f"\n--- {part.name}", flush=True)
    began, good, said = time.monotonic(), True, []
    for step in part.steps:
        code, closing = _run(step)
        if code:
            print(f"FAILED: {' '.join(step)}", flush=True)
        good = good and code == 0
        said += [closing] if closing else []
    return (part.name, part.budget_s, time.monotonic() - began, "; ".join(said) + ("" if good else "  FAILED")), good


def _environment() -> list[Row]:
    """What making the environment took, as its stamp remembers."""
    stamps = sorted((ROOT / ".venv").glob(".dev-*"))
    return [("environment", ENVIRONMENT_S, float(stamps[-1].read_text()), "when it was made")] if stamps else []


def _code_coverage() -> bool:
    print("\n--- coverage of the code", flush=True)
    return _run(_tool(f"coverage report --skip-covered --skip-empty --fail-under={FLOOR}"))[0] == 0


def main(names: list[str]) -> int:
    """Run the parts named, or all; 0 if all is well."""
    unknown = set(names) - {part.name for part in PARTS}
    if unknown:
        raise SystemExit(f"no such part: {', '.join(sorted(unknown))}; there are {', '.join(p.name for p in PARTS)}")
    os.environ |= {"COVERAGE_FILE": str(ROOT / ".coverage"), "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    os.environ["CHALAZA_HOME"] = str(ROOT / ".venv" / "home")  # never the notebook of whoever runs the tests
    (ROOT / ".coverage").unlink(missing_ok=True)
    done = [_part(part) for part in PARTS if not names or part.name in names]
    good = all(held for _, held in done)
    if not names:
        good = _code_coverage() and good
    table = [*([] if names else _environment()), *(row for row, _ in done)]
    spent, allowed = sum(row[2] for row in table), sum(row[1] for row in table)
    print(f"\n{'part':<12} {'budget':>8} {'taken':>8}")
    for name, budget_s, took_s, said in table:
        print(f"{name:<12} {budget_s:>6.0f} s {took_s:>6.1f} s  {'OVER  ' if took_s > budget_s else ''}{said}")
    good = good and spent <= allowed
    print(f"{'sum':<12} {allowed:>6.0f} s {spent:>6.1f} s  {'all is well' if good else 'NOT WELL'}")
    print(_sum(table, spent))
    return 0 if good else 1


def _sum(table: list[Row], spent_s: float) -> str:
    """The closing lines of all parts added up, in pytest's own form."""
    counts = dict.fromkeys(("failed", "passed", "skipped"), 0)
    for *_, said in table:
        for number, what in re.findall(r"(\d+) (failed|passed|skipped|xfailed|warnings?|errors?)", said):
            counts[what] = counts.get(what, 0) + int(number)
    words = ", ".join(f"{number} {what}" for what, number in counts.items() if number)
    return f" {words or 'no tests ran'} in {spent_s:.2f}s ".center(80, "=")


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
