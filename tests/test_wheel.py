"""The wheel as a keeper gets it: built without the network, put into an empty environment, used away from the checkout."""

import os
import re
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest
from tests.serving import got, serving

ROOT = Path(__file__).resolve().parents[1]


#: Variables of this run that a keeper does not have.
_OURS = ("PYTHON", "COV", "PYTEST", "CHALAZA", "DJANGO", "DATABASE")


def _surroundings() -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(_OURS)}
    return kept | {"UV_OFFLINE": "1", "PIP_NO_INDEX": "1", "PYTHONWARNINGS": "error"}


def _run(words: list[str], cwd: Path) -> str:
    """Run to the end without network, checkout or the settings of this run; what it printed."""
    done = subprocess.run(words, cwd=cwd, env=_surroundings(), capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{words}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built by hatchling as it lies in this environment."""
    folder = tmp_path_factory.mktemp("wheel")
    _run([sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)], ROOT)
    return next(folder.glob("*.whl"))


@pytest.fixture(scope="module")
def home(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment that holds the wheel alone; numpy and the like are lent to it by the running one."""
    home = tmp_path_factory.mktemp("home")
    _run([sys.executable, "-m", "venv", "--without-pip", str(home / "env")], home)
    python = home / "env" / "bin" / "python"
    installer = Path(sys.executable).with_name("uv")
    words = ["pip", "install", "-q", "--no-deps", "--python", str(python), "--cache-dir", str(home / "cache")]
    _run([str(installer), *words, str(wheel)], home)
    packages = Path(_run([str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"], home).strip())
    lent = home / "lent"
    lent.mkdir()
    for path in Path(sysconfig.get_path("purelib")).iterdir():
        if not path.name.startswith(("chalaza", "_chalaza", "__editable__")) and path.suffix != ".pth":
            (lent / path.name).symlink_to(path)
    (packages / "lent.pth").write_text(f"{lent}\n", encoding="utf-8")
    return home


def test_the_wheel_holds_tables_and_types_and_nothing_of_the_tests(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    here = {path.name for path in (ROOT / "src" / "chalaza" / "facts" / "tables").iterdir()}
    assert {Path(name).name for name in names if "/facts/tables/" in name} == here
    assert "chalaza/py.typed" in names
    assert {name.split("/")[0] for name in names if ".dist-info/" not in name} == {"chalaza"}


def test_the_wheel_holds_all_that_pages_and_sheets_are_made_of(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    source = ROOT / "src"
    ends = {".html", ".css", ".js", ".svg", ".typ", ".csv", ".toml"}
    wanted = {
        path.relative_to(source).as_posix()
        for path in (source / "chalaza").rglob("*")
        if path.suffix in ends and path.is_file()
    }
    assert len(wanted) > 100
    assert sorted(wanted - names) == []


def test_the_wheel_is_what_is_loaded_and_not_the_checkout(home: Path) -> None:
    code = "import chalaza.assess, chalaza; print(chalaza.__file__, chalaza.__version__)"
    file, version = _run([str(home / "env" / "bin" / "python"), "-c", code], home).split()
    assert Path(file).is_relative_to(home / "env")
    assert version in wheel_names(home)


def wheel_names(home: Path) -> str:
    """What the installed program calls itself and its version."""
    return next(path.name for path in (home / "env").rglob("chalaza-*.dist-info"))


def test_the_command_tells_facts_from_any_folder(home: Path) -> None:
    said = _run([str(home / "env" / "bin" / "chalaza"), "facts", "chicken"], home)
    assert "chicken" in said.lower()
    assert "21" in said


def test_an_assessment_runs_away_from_the_checkout(home: Path) -> None:
    code = """
from chalaza.assess import assess, prior_beliefs
from chalaza.values.evidence import Airflow, Batch, Egg, Evidence, Machine, Place, Setting, Stay

batch = Batch(uid="b", name="invented", kind="chicken", set_at=1_772_000_000)
setting = Setting(place=Place(uid="p", name="shed"), machines=(Machine(uid="m", name="box", airflow=Airflow.FAN),))
stay = Stay(uid="s", batch="b", machine="m", start=batch.set_at)
evidence = Evidence(setting=setting, batch=batch, stays=(stay,), eggs=(Egg(uid="e", label="A", count=12),))
answer = assess(prior_beliefs("chicken"), evidence, batch.set_at + 7 * 86400)
print((answer.clock.half_hatched.value - batch.set_at) / 86400, answer.count.set)
"""
    half_d, eggs = _run([str(home / "env" / "bin" / "python"), "-c", code], home).split()
    # A hen's eggs take 21 days by every table; what the wide beliefs make of that stays within two days.
    assert float(half_d) == pytest.approx(21.0, abs=2.0)
    assert int(eggs) == 12


_NAMED = r'(?:href|src)="(/static/[0-9a-f]{12}/([^"]+))"'


def test_it_serves_the_demonstration_away_from_the_checkout(home: Path) -> None:
    words = [str(home / "env" / "bin" / "chalaza"), "demo", "--port", "0"]
    with serving(words, home, _surroundings() | {"CHALAZA_HOME": str(home / "data")}) as address:
        with got(address) as answer:
            page = answer.read().decode()
            assert answer.status == 200
            assert "Speckled hens" in page
        files = {name: path for path, name in re.findall(_NAMED, page)}
        assert {"base.css", "tokens.css", "print.css", "outbox.js"} <= set(files)
        assert [name for name in files if name.startswith("htmx/")]
        for path in files.values():
            with got(address.rstrip("/") + path) as file:
                assert file.status == 200
                assert "immutable" in str(file.headers["Cache-Control"]), path
                assert len(file.read()) > 100
        with got(f"{address}batches/hens-batch/air-cells.pdf") as sheet:
            assert sheet.read(5) == b"%PDF-"
        with got(f"{address}facts/duck/") as bird:
            assert b"Anas platyrhynchos" in bird.read()
    assert (home / "data" / "demo" / "notebook.db").is_file()
