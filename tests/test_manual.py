"""The manual and the README as a reader meets them: it builds, loads nothing from elsewhere, and its examples hold."""

import doctest
import os
import re
import shlex
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
README = ROOT / "README.md"
#: Attributes by which a page loads something when it is opened. Links to follow (`a href`) load nothing.
LOADS = {"src", "srcset", "poster", "data"}


@pytest.fixture(scope="module")
def html(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The manual, built with warnings as errors."""
    out = tmp_path_factory.mktemp("manual")
    words = [
        "-q",
        "-W",
        "--keep-going",
        "-c",
        "docs",
        "-b",
        "html",
        "-d",
        str(out / "trees"),
        "docs/manual",
        str(out / "html"),
    ]
    done = subprocess.run(
        [sys.executable, "-m", "sphinx", *words], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return out / "html"


class _Loads(HTMLParser):
    """Collects what a page would fetch."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name in LOADS or (tag == "link" and name == "href"):
                self.found.append(value or "")


def test_the_built_manual_loads_nothing_from_elsewhere(html: Path) -> None:
    pages = sorted(html.rglob("*.html"))
    assert len(pages) > 15
    outside = []
    for page in pages:
        reader = _Loads()
        reader.feed(page.read_text(encoding="utf-8"))
        assert reader.found
        outside += [f"{page.name}: {one}" for one in reader.found if re.match(r"(?:[a-z]+:)?//", one)]
    for sheet in html.rglob("*.css"):
        text = sheet.read_text(encoding="utf-8")
        outside += [
            f"{sheet.name}: {one}" for one in re.findall(r"(?:url\(|@import)\s*['\"]?((?:https?:)?//[^)'\"]*)", text)
        ]
    assert outside == []


def test_the_built_manual_lists_every_file_of_the_open_folder(html: Path) -> None:
    text = (html / "folder.html").read_text(encoding="utf-8")
    from chalaza.exchange.schema import TABLES

    assert [table.file for table in TABLES.values() if table.file not in text] == []


def test_the_built_manual_has_the_help_of_every_command(html: Path) -> None:
    from chalaza.cli.main import COMMANDS

    text = (html / "commands.html").read_text(encoding="utf-8")
    assert [name for name in COMMANDS if f"chalaza {name} [OPTIONS]" not in text] == []


def test_the_examples_of_the_readme_hold() -> None:
    text = README.read_text(encoding="utf-8")
    block = "\n".join(re.findall(r"^```python\n(.*?)^```", text, re.MULTILINE | re.DOTALL))
    example = doctest.DocTestParser().get_doctest(block, {}, "README", str(README), 0)
    assert len(example.examples) > 5
    told: list[str] = []
    found = doctest.DocTestRunner(verbose=False).run(example, out=told.append)
    assert found.failed == 0, "".join(told)


def _steps(page: Path) -> list[str]:
    """What a page lets its reader do, in order: examples of Python and lines that call `chalaza`."""
    text = page.read_text(encoding="utf-8")
    steps = []
    for found in re.finditer(
        r"^ *(?:>>> (?:.*\n)(?: *\.\.\. .*\n)*|(?:\$ |\.venv/bin/)chalaza .*$)", text, re.MULTILINE
    ):
        steps.append(re.sub(r"(?m)^ *(?:>>>|\.\.\.|\$) |^ *\.venv/bin/", "", found[0]).strip())
    return steps


@pytest.mark.parametrize("page", [README, ROOT / "docs" / "manual" / "start.rst"], ids=lambda page: page.stem)
def test_the_steps_shown_can_be_followed_in_order_with_the_command_line(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    rows = [f"2026-04-{day:02d} {hour:02d}:00,37.4,51" for day in (2, 3, 4) for hour in range(24)]
    Path("logger.csv").write_text("\n".join(["time,temp °C,RH %", *rows]) + "\n", encoding="utf-8")  # invented
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    steps = _steps(page)
    if not any(step.startswith("chalaza demo") for step in steps):
        steps = ["chalaza demo --to demo", *steps]
    known: dict[str, object] = {"Path": Path}
    for step in steps:
        if not step.startswith("chalaza "):
            exec(compile(step, page.name, "single"), known)
            continue
        words = [sys.executable, "-m", "chalaza.cli.main", *shlex.split(step)[1:]]
        done = subprocess.run(words, env=env, capture_output=True, text=True, check=False)
        assert done.returncode == 0, f"{step}\n{done.stderr}"
        assert done.stdout
    assert sum(step.startswith("chalaza ") for step in steps) >= 3
