"""Where a figure comes from, in words: no method, record or status of the program is without them."""

import ast
from pathlib import Path

import chalaza.decide
import chalaza.inference
from chalaza import facts
from chalaza.facts.schema import STATUSES as OF_TABLES
from chalaza.inference import model
from chalaza.values.estimate import Basis
from chalaza.words.basis import INPUTS, METHODS, STATUS_MEANS, STATUSES, explain
from chalaza.words.numbers import Voice

FOLDERS = [Path(str(package.__file__)).parent for package in (chalaza.inference, chalaza.decide)]


def methods_in_source() -> set[str]:
    """First argument of every `Basis(...)` and `.basis(...)` call of inference and decide."""
    found: set[str] = set()
    for path in (path for folder in FOLDERS for path in folder.glob("*.py")):
        for n in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(n, ast.Call) and n.args and isinstance(n.args[0], ast.Constant):
                name = n.func.attr if isinstance(n.func, ast.Attribute) else getattr(n.func, "id", "")
                if name in ("basis", "Basis"):
                    found.add(n.args[0].value)
    return found


def inputs_in_source() -> set[str]:
    """Keys of the mapping of `model._inputs`."""
    tree = ast.parse(Path(str(model.__file__)).read_text(encoding="utf-8"))
    function = next(n for n in tree.body if isinstance(n, ast.FunctionDef) and n.name == "_inputs")
    mapping = next(n for n in ast.walk(function) if isinstance(n, ast.Dict))
    return {key.value for key in mapping.keys if isinstance(key, ast.Constant)}


def test_every_method_of_the_program_has_words() -> None:
    assert methods_in_source() == set(METHODS)


def test_every_sort_of_record_has_words() -> None:
    assert inputs_in_source() == set(INPUTS)


def test_every_status_of_the_tables_has_words() -> None:
    assert set(STATUSES) == set(STATUS_MEANS) == set(OF_TABLES)


def test_a_basis_names_its_sources_and_how_far_each_was_checked() -> None:
    found = explain(Voice(), Basis("water", ("readings", "weighings"), ("meir-ar-2008",)))
    assert found.method.startswith("water vapour through the shells")
    assert found.inputs == ("readings of the probes", "weighings")
    assert found.sources[0].cite == facts.sources()["meir-ar-2008"].cite
    assert found.sources[0].status == "checked"
