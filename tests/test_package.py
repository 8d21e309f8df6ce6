"""`import chalaza`: the same as the command line in ten lines, and nothing imported before it is used."""

import ast
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import chalaza
from chalaza.values.answers import Assessment

SRC = Path(__file__).resolve().parents[1] / "src"


def fresh(code: str) -> None:
    """Run `code` in a fresh interpreter; it must end well."""
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env={"PYTHONPATH": str(SRC)}, check=False
    )
    assert done.returncode == 0, done.stderr


def test_importing_the_package_imports_nothing_else() -> None:
    fresh("import sys, chalaza; assert 'numpy' not in sys.modules and 'chalaza.assess' not in sys.modules")


def test_every_exported_name_is_there() -> None:
    assert set(chalaza.__all__) == set(chalaza._HOMES) | {"__version__"}
    for name in chalaza.__all__:
        assert getattr(chalaza, name) is not None
    assert sorted(chalaza.__all__) == sorted(dir(chalaza))


def test_what_a_type_checker_sees_is_what_is_there() -> None:
    tree = ast.parse(inspect.getsource(chalaza))
    block = next(n for n in tree.body if isinstance(n, ast.If))
    seen = {
        alias.asname or alias.name: (n.module, alias.name)
        for n in block.body
        if isinstance(n, ast.ImportFrom)
        for alias in n.names
    }
    homes = {name: (home, attribute) for name, (home, attribute) in chalaza._HOMES.items() if attribute}
    assert {name: where for name, where in seen.items() if name != "facts"} == homes
    assert seen["facts"] == ("chalaza", "facts")


def test_a_name_that_is_not_there_is_refused() -> None:
    with pytest.raises(AttributeError, match="has no attribute 'hatch'"):
        chalaza.hatch  # noqa: B018


@pytest.mark.parametrize(
    "before",
    [
        "",
        "import chalaza.assess",
        "from chalaza.assess import prior_beliefs",
        "chalaza.prior_beliefs",
        "import chalaza.scenario.demo",
    ],
)
def test_assess_is_the_function_whatever_was_imported_before(before: str) -> None:
    function = "assert chalaza.assess.__name__ == 'assess' and callable(chalaza.assess)"
    fresh(f"import chalaza\n{before}\n{function}\nfrom chalaza import assess\nassert callable(assess)")


def test_a_batch_is_assessed_in_ten_lines(tmp_path: Path) -> None:
    from tests.factory import NOW, make_evidence

    chalaza.write_folder(tmp_path / "spring", make_evidence())
    evidence, beliefs = chalaza.read_folder(tmp_path / "spring")
    answer = chalaza.assess(beliefs or chalaza.prior_beliefs(evidence.batch.kind), evidence, NOW)
    assert isinstance(answer, Assessment)
    assert isinstance(answer.water.loss_at_lockdown, chalaza.Estimate)
    assert chalaza.facts.kind("hen").term_d.typical == 21.0
