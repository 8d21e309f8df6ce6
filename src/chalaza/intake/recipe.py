"""Named import recipes: the answers a keeper gave for one look of file, kept for the next file of this look.

A recipe is a small JSON text. The look is a fingerprint of the layout without its figures: two files of one logger
model and one set of export options have the same look, whatever the serial number in their header.
"""

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from chalaza.errors import ReadingError
from chalaza.intake.layout import Layout

_NAME = re.compile(r"^[a-z0-9][a-z0-9-]{0,39}$")
_SUFFIX = ".recipe.json"
_VERSION = 1


@dataclass(frozen=True, slots=True)
class Recipe:
    """A name, the look it is for, the answers, and the zone the logger's clock is in (`""`: not said)."""

    name: str
    look: str
    answers: Mapping[str, str] = field(default_factory=dict)
    zone: str = ""

    def to_text(self) -> str:
        """The recipe as JSON text."""
        content = {
            "version": _VERSION,
            "name": self.name,
            "look": self.look,
            "zone": self.zone,
            "answers": dict(self.answers),
        }
        return json.dumps(content, indent=2, ensure_ascii=False, sort_keys=True) + "\n"

    @classmethod
    def from_text(cls, text: str) -> "Recipe":
        """The inverse of `to_text`. Raises `ReadingError` for anything else."""
        try:
            found = json.loads(text)
            answers = {str(code): str(answer) for code, answer in found["answers"].items()}
            made = cls(str(found["name"]), str(found["look"]), answers, str(found["zone"]))
            version = found["version"]
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            raise ReadingError("this is no import recipe: name, look, zone and answers are needed") from None
        if version != _VERSION:
            raise ReadingError(f"an import recipe of version {version!r}; this program reads version {_VERSION}")
        _checked(made.name)
        return made


def look_of(layout: Layout, shape: str) -> str:
    """The fingerprint of a layout: delimiter, decimal mark, names without figures, look of the stamps."""
    names = [re.sub(r"\d+", "0", name) for name in (*layout.names, *layout.units, *layout.aggregates)]
    content = "\x1f".join([layout.blanks or layout.delimiter, layout.decimal, shape, *names])
    return hashlib.sha256(content.encode("utf-8", "replace")).hexdigest()[:16]


def _checked(name: str) -> str:
    if not _NAME.match(name):
        raise ReadingError(f"no name for a recipe: {name!r}; small letters, figures and hyphens, at most 40")
    return name


def save(folder: Path, recipe: Recipe) -> Path:
    """Write a recipe into `folder`; a recipe of the same name is replaced."""
    path = folder / f"{_checked(recipe.name)}{_SUFFIX}"
    folder.mkdir(parents=True, exist_ok=True)
    path.write_text(recipe.to_text(), encoding="utf-8")
    return path


def load(folder: Path, name: str) -> Recipe:
    """The recipe `name` of `folder`. Raises `ReadingError` when there is none, naming those there are."""
    path = folder / f"{_checked(name)}{_SUFFIX}"
    try:
        return Recipe.from_text(path.read_text(encoding="utf-8"))
    except OSError:
        known = ", ".join(recipe.name for recipe in all_in(folder)) or "none yet"
        raise ReadingError(f"no import recipe {name!r}; there are: {known}") from None


def all_in(folder: Path) -> list[Recipe]:
    """The readable recipes of `folder`, by name."""
    found = []
    for path in sorted(folder.glob(f"*{_SUFFIX}")) if folder.is_dir() else []:
        try:
            found.append(Recipe.from_text(path.read_text(encoding="utf-8")))
        except (ReadingError, OSError, UnicodeDecodeError):
            continue
    return found


def find(folder: Path, look: str) -> Recipe | None:
    """The first recipe of `folder` for this look, if any."""
    return next((recipe for recipe in all_in(folder) if recipe.look == look), None)
