"""The manual and the README as a reader meets them: it builds, loads nothing from elsewhere, and its examples hold."""

import doctest
import os
import re
import shlex
import subprocess
import sys
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

import pytest
from tests.serving import got, serving

from chalaza.pages import server
from chalaza.records import answers, copies, devices, files, logs, upkeep

ROOT = Path(__file__).resolve().parents[1]
README, MANUAL = ROOT / "README.md", ROOT / "docs" / "manual"
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
    """What a page lets its reader do, in order: examples of Python, and lines that call `chalaza` or `make`."""
    text = page.read_text(encoding="utf-8")
    command = r"(?:(?:\$ |\.venv/bin/)(?:[A-Z_]+=\S+ )*chalaza |(?:\$ )?make (?:demo|serve)\b).*"
    steps = []
    for found in re.finditer(rf"^ *(?:>>> (?:.*\n)(?: *\.\.\. .*\n)*|{command}$)", text, re.MULTILINE):
        step = re.sub(r"(?m)^ *(?:>>>|\.\.\.|\$) |^ *\.venv/bin/", "", found[0]).strip()
        steps.append(step if found[0].lstrip().startswith(">>>") else step.split("#")[0].strip())
    return steps


@dataclass(frozen=True)
class _Command:
    """A step that is a command, as it is run here: by this interpreter; `make` sets up no environment, for this is one."""

    step: str

    @property
    def set(self) -> dict[str, str]:
        """The variables that stand before it."""
        return dict(word.split("=", 1) for word in shlex.split(self.step) if re.match("[A-Z_]+=", word))

    @property
    def words(self) -> list[str]:
        first, *rest = [word for word in shlex.split(self.step) if not re.match("[A-Z_]+=", word)]
        if first == "make":
            return ["make", "--silent", "-C", str(ROOT), *rest, "READY=", f"BIN={Path(sys.executable).parent}"]
        return [sys.executable, "-m", "chalaza", *rest]

    @property
    def serves(self) -> bool:
        return self.words[0] == "make" or "serve" in self.words or ("demo" in self.words and "--to" not in self.words)


def _run(command: _Command, folder: Path, env: dict[str, str]) -> None:
    """A command that serves must show its first page at the address it prints; any other must end well and say something."""
    if command.serves:
        with serving(command.words, folder, env | command.set) as address, got(address) as answer:
            assert answer.status == 200, command.step
            assert b"Chalaza</a>" in answer.read(), command.step
        return
    done = subprocess.run(command.words, env=env | command.set, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{command.step}\n{done.stderr}"
    assert done.stdout


@pytest.fixture(scope="module")
def demonstration(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The notebook of the demonstration, made once for all pages, as it is for a reader on one day."""
    return tmp_path_factory.mktemp("demonstration")


FOLLOWED = [
    README,
    *(MANUAL / f"{name}.rst" for name in ("start", "serve", "phones", "backup", "folders", "folder_way")),
]


@pytest.mark.parametrize("page", FOLLOWED, ids=lambda page: page.stem)
def test_the_steps_shown_can_be_followed_in_order(
    page: Path, tmp_path: Path, demonstration: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("data").mkdir()
    Path("data/demo").symlink_to(demonstration)
    rows = [f"2026-04-{day:02d} {hour:02d}:00,37.4,51" for day in (2, 3, 4) for hour in range(24)]
    Path("logger.csv").write_text("\n".join(["time,temp °C,RH %", *rows]) + "\n", encoding="utf-8")  # invented
    left_out = ("DATABASE_URL", "DJANGO_SETTINGS_MODULE", "CHALAZA_CLOCK", "PYTHONPATH", "MAKEFLAGS", "MAKELEVEL")
    env = {name: value for name, value in os.environ.items() if name not in left_out}
    env |= {"PORT": "0", "CHALAZA_HOME": str(tmp_path / "data")}
    known: dict[str, object] = {"Path": Path}
    steps = _steps(page)
    commands = 0
    for step in steps:
        if re.match(r"(?:[A-Z_]+=\S+ )*(?:make|chalaza) ", step):
            commands += 1
            _run(_Command(step), tmp_path, env)
        else:
            exec(compile(step, page.name, "single"), known)
    assert commands


def test_every_command_of_the_manual_stands_on_a_page_that_is_followed() -> None:
    assert [
        page.name for page in MANUAL.glob("*.rst") if page not in FOLLOWED and "$ chalaza" in page.read_text()
    ] == []


def _said_by_the_program() -> str:
    """The source of all that pages, words and sheets can say."""
    source = ROOT / "src" / "chalaza"
    files = [path for end in ("*.py", "*.html") for path in source.rglob(end)]
    return "\n".join(path.read_text(encoding="utf-8") for path in files)


def test_every_label_the_manual_names_stands_in_the_program() -> None:
    source = _said_by_the_program()
    found = {
        (" ".join(label.split()), page.name)
        for page in MANUAL.glob("*.rst")
        for label in re.findall(r":guilabel:`([^`]+)`", page.read_text(encoding="utf-8"))
    }
    assert len(found) > 40
    # In the manual three dots stand for what is filled in.
    missing = [one for one in found if not re.search(f'"{re.escape(one[0])}"'.replace("…", r"\{\w+\}"), source)]
    assert sorted(missing) == []


def test_the_limits_the_manual_tells_are_those_of_the_program() -> None:
    mb = 2**20
    outbox = (ROOT / "src" / "chalaza" / "pages" / "static" / "outbox.js").read_text(encoding="utf-8")
    told = {
        ("phones", "within five minutes"): (devices.CODE_S, 5 * 60),
        ("phones", "every 20 seconds"): ("EVERY_MS = 20000" in outbox, True),
        ("serve", "8765, or the next that is free"): (server.PORT, 8765),
        ("serve", "Less than 200 MB free"): (upkeep.LOW_B, 200_000_000),
        ("serve", "kept for 30 days"): (copies.KEPT_D, 30),
        ("backup", "kept as a copy for 30 days"): (copies.KEPT_D, 30),
        ("backup", "A backup of more than 256 MB"): (server.MOST_BODY_B, 257 * mb),
        ("logs", "A file has at most 256 MB"): (files.MOST_BYTES, 256 * mb),
        ("logs", "With less than 200 MB free"): (files.LEAST_FREE_BYTES, 200 * mb),
        ("logs", "For 30 days"): (logs.KEPT_S, 30 * 86_400),
        ("answers", "the last full ten minutes"): (answers.TICK_S, 10 * 60),
    }
    pages = {name: (MANUAL / f"{name}.rst").read_text(encoding="utf-8") for name, _ in told}
    assert {key: held for key, (held, said) in told.items() if held != said} == {}
    assert [key for key in told if key[1] not in pages[key[0]]] == []
