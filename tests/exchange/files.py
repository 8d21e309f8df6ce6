"""A sound batch as file texts that a test may spoil, packed again into a zip."""

import io
import zipfile
from collections.abc import Mapping

from chalaza.exchange import write_zip
from chalaza.values.beliefs import Belief, Beliefs, Shape
from chalaza.values.evidence import Evidence
from factory import make_evidence

PACE, OFFSET = ("kind:chicken", "pace"), ("probe:p1", "offset")
BELIEFS = Beliefs(
    {
        PACE: Belief(shape=Shape.NORMAL, a=0.0, b=0.5, unit="1", scale="log"),
        OFFSET: Belief(shape=Shape.BETA, a=3.0, b=4.0, unit="1"),
    },
    {(PACE, OFFSET): 0.25},
)


def texts(evidence: Evidence | None = None, beliefs: Beliefs | None = BELIEFS) -> dict[str, str]:
    """The files of a folder by name."""
    file = io.BytesIO()
    write_zip(file, evidence or make_evidence(), beliefs)
    with zipfile.ZipFile(file) as archive:
        return {name: archive.read(name).decode() for name in archive.namelist()}


def packed(files: Mapping[str, str | bytes], compression: int = zipfile.ZIP_DEFLATED) -> io.BytesIO:
    """A zip of such files."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", compression) as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return file


def spoiled(file: str, old: str, new: str) -> io.BytesIO:
    """A zip in which the first `old` of one file is `new`; an error of the test if there is none."""
    files = texts()
    if old not in files[file]:
        raise LookupError(f"{old!r} is not in {file}: {files[file][:300]}")
    return packed({**files, file: files[file].replace(old, new, 1)})
