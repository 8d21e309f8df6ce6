"""Sheets as a printer gets them: the ink of a PNG page, and the paths of a PDF in millimetres."""

import re
import struct
import zlib

import numpy as np
import numpy.typing as npt

Gray = npt.NDArray[np.int64]


def gray(png: bytes) -> Gray:
    """The red channel of an RGBA picture of 8 bits, by the PNG standard (W3C 2003, 6 and 9): 0 black, 255 white."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    at, packed, width, height = 8, b"", 0, 0
    while at < len(png):
        size, kind = struct.unpack(">I4s", png[at : at + 8])
        body = png[at + 8 : at + 8 + size]
        at += 12 + size
        if kind == b"IHDR":
            width, height, *rest = struct.unpack(">IIBBBBB", body)
            assert rest == [8, 6, 0, 0, 0]
        packed += body if kind == b"IDAT" else b""
    rows = np.frombuffer(zlib.decompress(packed), np.uint8).reshape(height, 1 + 4 * width)
    out = np.zeros((height, width), np.int64)
    above = np.zeros(width, np.int64)
    for y in range(height):
        above = out[y] = _unfiltered(int(rows[y, 0]), rows[y, 1::4].astype(np.int64), above)
    return out


def _unfiltered(kind: int, row: Gray, above: Gray) -> Gray:
    """One row of one channel with its filter undone."""
    if kind == 0:
        return row
    if kind == 1:
        return np.cumsum(row) % 256
    if kind == 2:
        return (row + above) % 256
    left, before, out = 0, 0, []
    for x, up in zip(row.tolist(), above.tolist(), strict=True):
        guess = (left + up) // 2 if kind == 3 else _paeth(left, up, before)
        left = (x + guess) % 256
        before = up
        out.append(left)
    return np.array(out, np.int64)


def _paeth(left: int, up: int, before: int) -> int:
    near = left + up - before
    return min((abs(near - left), 0, left), (abs(near - up), 1, up), (abs(near - before), 2, before))[2]


def strokes(line: Gray) -> list[float]:
    """Middles of the dark stretches along a line of pixels, weighed by their ink. [px]"""
    ink = 255 - line
    dark = np.flatnonzero(ink > 40)
    if not len(dark):
        return []
    parts = np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1)
    return [float((part + 0.5) @ ink[part] / ink[part].sum()) for part in parts]


def runs(inked: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Stretches that are True, as first and one past the last."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], inked.astype(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def inflated(pdf: bytes) -> list[bytes]:
    """Every compressed stream of a PDF, unpacked."""
    found = []
    for start in re.finditer(rb"stream\r?\n", pdf):
        try:
            found.append(zlib.decompressobj().decompress(pdf[start.end() :]))
        except zlib.error:
            continue
    return found


_NUMBER = rb"-?[\d.]+"
_PATH = re.compile(rb"(%s %s m(?:\s+%s %s l)+)" % ((_NUMBER,) * 4))
MM_PER_PT = 25.4 / 72.0


def paths(pdf: bytes) -> list[npt.NDArray[np.float64]]:
    """Corners of every straight-sided path of a PDF, in its own place and in millimetres."""
    out = []
    for stream in inflated(pdf):
        for path in _PATH.findall(stream):
            corners = re.findall(rb"(%s) (%s) [ml]" % (_NUMBER, _NUMBER), path)
            out.append(MM_PER_PT * np.array([[float(x), float(y)] for x, y in corners]))
    return out
