"""The house holds: floors take parts and not the whole, the core stays light, no address and no machine in the tree."""

import ast
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "src" / "chalaza"
LOCKS = ("requirements.lock", "requirements-dev.lock")
SPLIT_AT, ASK_AT, FUNCTION_AT = 600, 400, 45
#: Modules past the length at which one asks, with the reason that was good enough.
LONG: dict[str, str] = {}
#: Functions past the length at which they are split (docstring apart), with the reason that was good enough.
LONG_FUNCTIONS = {
    "src/chalaza/inference/exposure.py: expose": "fills one frozen value, a line for each of its fields",
    "src/chalaza/inference/model.py: understanding": "fills one frozen value, a line for each of its fields",
    "src/chalaza/inference/read_warmth.py: read": "fills one answer, a line for each of its fields",
    "src/chalaza/intake/summary.py: summarise": "fills one report, a line for each of its fields",
}


def _tracked() -> list[str]:
    """Files under version control; in an unpacked archive, all files that would be."""
    try:
        said = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("no version control here that could say which files belong to the project")
    return [name for name in said.split("\0") if name and (ROOT / name).is_file()]


def _modules(*folders: str) -> Iterator[tuple[str, ast.Module]]:
    for folder in folders:
        for path in sorted((PACKAGE / folder).rglob("*.py")):
            yield path.relative_to(ROOT).as_posix(), ast.parse(path.read_text(encoding="utf-8"))


def _annotations(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """Every annotated argument of every function: "function(argument)" and the text of the annotation."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            args = node.args
            for one in (*args.posonlyargs, *args.args, *args.kwonlyargs, args.vararg, args.kwarg):
                if one is not None and one.annotation is not None:
                    yield f"{node.name}({one.arg})", ast.unparse(one.annotation)


def test_floors_below_assess_take_parts_and_never_the_whole_evidence() -> None:
    seen = 0
    whole = []
    for name, tree in _modules("physics", "inference", "decide"):
        for where, annotation in _annotations(tree):
            seen += 1
            if re.search(r"\b(Evidence|Beliefs)\b", annotation):
                whole.append(f"{name}: {where}: {annotation}")
    assert seen > 300
    assert whole == []


def test_physics_and_inference_of_the_core_open_no_file_and_read_no_clock() -> None:
    banned = {"open", "input", "print"}
    modules = {"os", "time", "datetime", "pathlib", "random", "socket", "subprocess", "io"}
    found = []
    for name, tree in _modules("physics", "inference", "decide", "values"):
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in banned:
                found.append(f"{name}:{node.lineno} calls {node.func.id}")
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            found += [f"{name}:{node.lineno} imports {one}" for one in names if one.split(".")[0] in modules]
    assert found == []


def test_the_core_loads_no_heavy_package() -> None:
    # Each of these costs 50 MB or 0.4 s and more; `chalaza assess` on a small board has neither to spare.
    heavy = ("scipy.stats", "scipy.signal", "numba", "polars", "pandas", "django", "vl_convert", "matplotlib")
    code = f"import sys, chalaza.assess; print(*[name for name in {heavy!r} if name in sys.modules])"
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    said = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    assert said.stdout.split() == []


def test_modules_keep_to_a_length_one_can_read() -> None:
    lengths = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path in PACKAGE.rglob("*.py")
        if path.parent.name != "migrations"  # written by Django after the models
    }
    assert len(lengths) > 50
    assert {name: size for name, size in lengths.items() if size > SPLIT_AT} == {}
    assert {name for name, size in lengths.items() if size > ASK_AT} == set(LONG)


#: Ways into the database that go round `acts`. Tables that only keep (answers, work, devices seen) have modules of records.
_WRITES = {"save", "create", "update", "delete", "bulk_create", "bulk_update", "get_or_create", "update_or_create"}
#: Calls of these names on things that are no records.
_NO_RECORD = {"hashlib", "recipes", "digest", "found", "path", "shown", "holes", "kept_names", "seen", "context"}


def test_pages_and_commands_change_records_by_acts_alone() -> None:
    found = []
    for name, tree in _modules("pages", "cli"):
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in _WRITES:
                of = ast.unparse(node.func.value)
                if "objects" in of or not (of in _NO_RECORD or of.endswith("headers")):
                    found.append(f"{name}:{node.lineno}: {of}.{node.func.attr}(...)")
    assert found == []


def _length(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function, its docstring apart."""
    said = node.body[0] if ast.get_docstring(node, clean=False) is not None else None
    return (node.end_lineno or 0) - node.lineno + 1 - ((said.end_lineno or 0) - said.lineno + 1 if said else 0)


def test_functions_keep_to_a_length_one_can_read() -> None:
    long = {
        f"{name}: {node.name}"
        for name, tree in _modules(".")
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and _length(node) > FUNCTION_AT
    }
    assert long == set(LONG_FUNCTIONS)


def test_every_module_says_what_it_is_for() -> None:
    silent = [
        name
        for name, tree in _modules(".")
        if "/migrations/0001_" not in name
        if not (ast.get_docstring(tree) or (name.endswith("__init__.py") and not tree.body))
    ]
    assert silent == []


@pytest.mark.parametrize("lock", LOCKS)
def test_locks_hold_no_address_and_a_hash_for_every_package(lock: str) -> None:
    text = (ROOT / lock).read_text(encoding="utf-8")
    assert "://" not in text
    pins = re.split(r"(?m)^(?=[a-z0-9])", text)[1:]
    assert len(pins) > 5
    assert [pin.splitlines()[0] for pin in pins if "--hash=sha256:" not in pin or "==" not in pin.splitlines()[0]] == []


def _name(requirement: str) -> str:
    return re.sub(r"[-_.]+", "-", re.split(r"[\s<>=!~;\[]", requirement, maxsplit=1)[0]).lower()


def _pinned(lock: str) -> dict[str, set[str]]:
    """Name of each package in a lock with its versions (more than one where they depend on the Python)."""
    pins: dict[str, set[str]] = {}
    for line in (ROOT / lock).read_text(encoding="utf-8").splitlines():
        if found := re.match(r"([a-z0-9][a-z0-9._-]*)==(\S+)", line):
            pins.setdefault(_name(found[1]), set()).add(found[2])
    return pins


def test_locks_agree_with_the_project_and_with_each_other() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    groups = project["dependency-groups"]
    run = {_name(one) for one in (*project["project"]["dependencies"], *groups["build"])}
    dev = {_name(one) for one in groups["dev"] if isinstance(one, str)}
    pins, more = (_pinned(lock) for lock in LOCKS)
    assert run - pins.keys() == set()
    assert (run | dev) - more.keys() == set()
    assert {name: (had, more.get(name)) for name, had in pins.items() if more.get(name) != had} == {}


def test_nothing_in_the_tree_speaks_of_a_machine_it_was_written_on() -> None:
    # Put together here, so that this file does not hold what it looks for.
    homes = "|".join("/" + name + "/" for name in ("work", "home", "root", "Users", "tmp"))
    hosts = "|".join(re.escape(name) for name in ("pypi" + ".org", "python" + "hosted", "registry.npm" + "js"))
    wanted = re.compile(rf"(?<![\w.~$}}/-])(?:{homes})|{hosts}")
    found = []
    for name in _tracked():
        try:
            text = (ROOT / name).read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        found += [f"{name}:{n}: {line[:100]}" for n, line in enumerate(text.splitlines(), 1) if wanted.search(line)]
    assert found == []


def test_nothing_that_is_made_is_kept() -> None:
    made = re.compile(
        r"(^|/)(\.venv|\.tools|__pycache__|_build|dist|build|demo)(/|$)|\.(pyc|whl|egg-info)$|(^|/)uv\.lock$"
    )
    assert [name for name in _tracked() if made.search(name)] == []
