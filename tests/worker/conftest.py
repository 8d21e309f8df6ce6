"""The notebook that the worker's tests share between processes."""

from pathlib import Path

import pytest

from .place import Place, make


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty notebook with one probe, made once."""
    home = tmp_path_factory.mktemp("notebook") / "home"
    make(home)
    return home


@pytest.fixture
def place(template: Path, tmp_path: Path) -> Place:
    """A notebook of the test's own."""
    return Place(tmp_path / "home", template)
