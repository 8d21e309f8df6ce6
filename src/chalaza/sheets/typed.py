"""What people typed, made fit to be set on paper: one line, of a length that fits, that cannot turn its neighbours round."""

import re
from unicodedata import bidirectional, category

#: Zero-width: a place where a long word may be broken; begin and end of a stretch with a direction of its own.
_BREAK, _FIRST_STRONG, _POP = "\u200b", "\u2068", "\u2069"
_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})


def cleaned(text: str, most: int, *, run: int = 16) -> str:
    """`text` on one line, with at most `most` signs (an ellipsis says that there were more).

    Signs that cannot be seen go (control, direction, half a pair); a word longer than `run` may be broken; text that runs
    from right to left is set apart, so that the words and figures around it keep their order.
    """
    seen = "".join(_visible(sign) for sign in text)
    line = " ".join(seen.split())
    if len(line) > most:
        line = line[: most - 1].rstrip() + "…"
    line = re.sub(rf"(\S{{{run}}})(?=\S)", rf"\1{_BREAK}", line)
    if any(bidirectional(sign) in _RIGHT_TO_LEFT for sign in line):
        return f"{_FIRST_STRONG}{line}{_POP}"
    return line


def _visible(sign: str) -> str:
    """The sign, a blank for what breaks lines, a mark for half a pair, nothing for what only steers."""
    match category(sign):
        case "Cc" | "Zl" | "Zp":
            return " "
        case "Cs" | "Co" | "Cn":
            return "\ufffd"
        case "Cf" if sign not in "\u200c\u200d":  # these join letters of some scripts, and are part of their words
            return ""
        case _:
            return sign
