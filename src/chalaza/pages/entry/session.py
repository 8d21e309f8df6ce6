"""A session: entries of one batch made one after the other, with one zero of the scale or at one look.

The rows of a session have uids made of the session and what they are about, so that an egg entered twice is one row that
was put right, whoever sent it, and however often.
"""

import re
import secrets
from collections.abc import Iterable
from hashlib import sha256

#: A page opened within this after the last entry goes on with its session. Judgement.
GOES_ON_S = 3 * 3600
_NAME = re.compile(r"[0-9a-f]{16}")
_ROW = re.compile(r"([0-9a-f]{16})-[0-9a-f]{16}")


def fresh() -> str:
    """The name of a new session."""
    return secrets.token_hex(8)


def is_name(text: str) -> bool:
    """Whether that is the name of a session."""
    return _NAME.fullmatch(text) is not None


def row_uid(session: str, *about: str) -> str:
    """The uid of the row of a session that is about those things."""
    return f"{session}-{sha256(chr(0).join(about).encode()).hexdigest()[:16]}"


def of_row(uid: str) -> str:
    """The session a row belongs to; empty for a row of another making."""
    found = _ROW.fullmatch(uid)
    return found[1] if found else ""


def going_on(rows: Iterable[tuple[str, int]], now: int) -> str:
    """The session that still goes on, of rows (uid, at) with the newest first; empty where there is none."""
    return next((of_row(uid) for uid, at in rows if abs(now - at) < GOES_ON_S and of_row(uid)), "")
