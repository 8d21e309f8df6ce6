"""Bytes of a logger file to clean UTF-8 bytes: byte-order marks, UTF-16, code pages, line ends, NUL bytes.

Everything behind this module works on bytes in UTF-8 with `\\n` line ends, so that columns can be cut by position.
A NUL byte becomes 0x1A, which no cell accepts: a number torn by a dead battery must not close up to another number.
"""

from dataclasses import dataclass
from pathlib import Path

from chalaza.errors import ReadingError

MAX_BYTES = 256 * 1024 * 1024
#: A longer line is no row of readings; it is reported and stepped over.
MAX_LINE = 1024 * 1024
TORN = 0x1A
_SAMPLE = 4096

#: First bytes of files that are no text, and what to do instead.
_NOT_TEXT = (
    (b"PK\x03\x04", "a zip archive or a spreadsheet workbook: unpack it, or save the sheet as CSV text"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook: open it and save the sheet as CSV text"),
    (b"\x1f\x8b", "a gzip archive: unpack it first"),
    (b"%PDF", "a PDF document: export the readings as CSV or text instead"),
    (b"\x89PNG", "a picture: export the readings as CSV or text instead"),
    (b"\xff\xd8\xff", "a picture: export the readings as CSV or text instead"),
)
_MARKS = (
    (b"\xef\xbb\xbf", "utf-8"),
    (b"\xff\xfe\x00\x00", "utf-32-le"),
    (b"\x00\x00\xfe\xff", "utf-32-be"),
    (b"\xff\xfe", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"),
)
#: Code pages tried on text that is no UTF-8, and the words that give each away (time, date, temperature, humidity).
_PAGES = (
    ("cp1251", ("темпер", "влажн", "время", "дата")),
    ("shift_jis", ("温度", "湿度", "日時", "時刻")),
    ("gb18030", ("温度", "湿度", "时间", "日期")),
    ("big5", ("溫度", "濕度", "時間", "日期")),
    ("euc_kr", ("온도", "습도", "시간")),
)


@dataclass(frozen=True, slots=True)
class Text:
    """A file as clean UTF-8 bytes; `torn` counts NUL bytes, `note` says what was found, in plain words."""

    data: bytes
    encoding: str
    torn: int
    note: str


def load(source: bytes | Path) -> bytes:
    """The bytes of `source`. Raises `ReadingError` when there are none, too many, or no such file."""
    try:
        size = len(source) if isinstance(source, bytes) else source.stat().st_size
        if size > MAX_BYTES:
            raise ReadingError(
                f"the file has {size / 1e6:.0f} MB; at most {MAX_BYTES / 1e6:.0f} MB are read at once: split it by month"
            )
        raw = source if isinstance(source, bytes) else source.read_bytes()
    except OSError as error:
        raise ReadingError(f"the file cannot be opened: {error.strerror or error}") from None
    if not raw:
        raise ReadingError("the file is empty: download it again from the logger")
    return raw


def clean(raw: bytes) -> Text:
    """`raw` as UTF-8 bytes with `\\n` line ends and no NUL. Raises `ReadingError` for files that are no text."""
    for magic, advice in _NOT_TEXT:
        if raw.startswith(magic):
            raise ReadingError(f"this is not text but {advice}")
    encoding, data, note = _decode(raw)
    torn = data.count(b"\0") if b"\0" in data else 0
    if torn:
        data = data.rstrip(b"\0").replace(b"\0", bytes((TORN,)))
        note += f"; {torn} NUL bytes"
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not data[:_SAMPLE].strip() and not data.strip():
        raise ReadingError("the file holds only blanks: download it again from the logger")
    return Text(data, encoding, torn, note)


def _decode(raw: bytes) -> tuple[str, bytes, str]:
    if raw.isascii() and not _wide(raw):
        return "ascii", raw, "plain ASCII"
    for mark, encoding in _MARKS:
        if raw.startswith(mark):
            body = raw[len(mark) :]
            if encoding == "utf-8":
                return encoding, _repair(body), "UTF-8 with a byte-order mark"
            return encoding, _to_utf8(body, encoding), f"{encoding.upper()} by its byte-order mark"
    wide = _wide(raw)
    if wide:
        return wide, _to_utf8(raw, wide), f"{wide.upper()} by its pattern of NUL bytes"
    if _mostly_utf8(raw):
        return "utf-8", _repair(raw), "UTF-8"
    page = _page(raw)
    return page, _to_utf8(raw, page), f"code page {page}"


def _wide(raw: bytes) -> str:
    """UTF-16 without a mark: in Latin text every other byte is NUL."""
    head = raw[:_SAMPLE]
    if len(head) < 8:
        return ""
    half = len(head) // 2
    even, odd = head[0::2].count(0) / half, head[1::2].count(0) / half
    if odd > 0.4 and even < 0.05:
        return "utf-16-le"
    return "utf-16-be" if even > 0.4 and odd < 0.05 else ""


def _to_utf8(raw: bytes, encoding: str) -> bytes:
    return raw.decode(encoding, errors="replace").encode("utf-8", errors="replace")


def _repair(raw: bytes) -> bytes:
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return _to_utf8(raw, "utf-8")
    return raw


def _mostly_utf8(raw: bytes) -> bool:
    """UTF-8, or UTF-8 with some noise: valid sequences outnumber the broken ones."""
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("utf-8", errors="replace")
        broken = text.count("\ufffd")
        return sum(1 for char in text[:200_000] if char > "\x7f" and char != "\ufffd") > broken
    return True


def _page(raw: bytes) -> str:
    head = raw[: 16 * _SAMPLE]
    for page, words in _PAGES:
        text = head.decode(page, errors="replace").lower()
        if any(word in text for word in words):
            return page
    return "cp1252"
