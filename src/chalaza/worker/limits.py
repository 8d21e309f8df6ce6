"""How large a process is and may get, and how its end is tied to that of whoever started it."""

import os
import sys
import threading
from collections.abc import Callable
from pathlib import Path

_MB = 2**20
_NICE = 15


def limit_memory(memory_mb: float) -> Callable[[], None]:
    """Let this process ask for no more than so much memory of its own: beyond it, allocation fails and raises.

    Gives a function that lifts the limit again, so that the failure can be told. Where the system knows no such limit,
    the worker watches the size from outside alone.
    """
    try:
        import resource
    except ImportError:  # no limits of this sort on this system
        return lambda: None
    which = resource.RLIMIT_DATA if sys.platform == "linux" else resource.RLIMIT_AS
    _, hard = resource.getrlimit(which)
    try:
        resource.setrlimit(which, (int(memory_mb * _MB), hard))
    except (ValueError, OSError):
        return lambda: None
    return lambda: resource.setrlimit(which, (hard, hard))


def step_back() -> None:
    """Let this process have a core only where nobody waits for it: pages come first."""
    if hasattr(os, "nice"):
        os.nice(_NICE)


def resident_mb(pid: int) -> float:
    """Memory a process holds at the moment; 0 where the system does not tell, or the process is gone. [MB]"""
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
    except (OSError, ValueError, IndexError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / _MB


def on_close(then: Callable[[], object]) -> None:
    """Call `then` from a thread of its own when standard input closes: whoever started us is gone, or wants us gone."""

    def watch() -> None:
        try:
            while os.read(0, 4096):
                pass
        except OSError:
            pass
        then()

    threading.Thread(target=watch, name="standard input", daemon=True).start()
