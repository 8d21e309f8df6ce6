"""One piece of work in an interpreter of its own: `python -m chalaza.worker.job FUNCTION UID TRY MEMORY_MB`.

It ends when its standard input closes, writes what it came to itself, and says in a sentence why it could not. What ends
it from outside is told by the worker that started it.
"""

import os
import signal
import sys
import time
import traceback
from collections.abc import Callable

from chalaza.errors import ChalazaError, NotebookError
from chalaza.records import notebook
from chalaza.words.language import mark
from chalaza.worker.limits import limit_memory, on_close, step_back

TOO_LARGE = mark(
    "It needs more memory than it may take ({limit} MB) and was stopped; nothing of it was stored. "
    "If it is a file, split it, by month for example, and send the parts one after the other."
)
FAULT = mark(
    "This is a fault of the program, not of yours; nothing was stored. Please report it with these words: {what}"
)
#: How often progress is written down. [s]
_EVERY_S = 0.4


def main(function: str, uid: str, tries: int, memory_mb: float) -> None:
    """Do the work `uid` on its try of that number, by `function`, within `memory_mb`."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the program; it closes our standard input
    on_close(lambda: os._exit(0))
    notebook.open_records()
    step_back()
    lift = limit_memory(memory_mb)
    from chalaza.records import models as m
    from chalaza.records import work
    from chalaza.worker.kinds import resolved

    row = m.Work.objects.filter(uid=uid, state=work.State.RUNNING, tries=tries).first()
    if row is None:  # taken over, or nobody wants it any more
        return
    try:
        arguments = {**row.arguments, "uid": row.uid, "keeper": row.asked_by}
        outcome = resolved(function)(arguments, _teller(lambda share, text: work.progress(row, share, text)))
        if not work.finish(row, outcome):
            work.stopped(row)
    except work.Cancelled:
        work.stopped(row)
    except MemoryError:
        lift()
        work.fail(row, TOO_LARGE, limit=f"{memory_mb:.0f}")
    except NotebookError as refused:
        work.fail(row, refused.text, **refused.holes)
    except ChalazaError as refused:
        work.fail(row, "{what}", what=str(refused))
    except Exception as fault:
        traceback.print_exc()
        work.fail(row, FAULT, what=f"{type(fault).__name__}: {fault}")


def _teller(tell: Callable[[float, str], None]) -> Callable[[float, str], None]:
    """`tell`, but no more often than is seen; a new message is told at once."""
    seen = ("", -1.0)

    def told(share: float, message: str = "") -> None:
        nonlocal seen
        now = time.monotonic()
        if message != seen[0] or now - seen[1] >= _EVERY_S:
            seen = (message, now)
            tell(share, message)

    return told


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]), float(sys.argv[4]))
