"""A command that serves, started as a reader types it: what it prints, its pages over the wire, and its end."""

import os
import signal
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from http.client import HTTPResponse
from pathlib import Path
from threading import Timer
from urllib.request import urlopen

#: A command that has said nothing for so long hangs; the guard then ends it, and the test fails with what it said.
HANGS_S = 90.0
SAYS = "Chalaza answers at "


@contextmanager
def serving(words: Sequence[str], cwd: Path, env: Mapping[str, str]) -> Iterator[str]:
    """The address printed, as long as the command runs; then it is told to end, and says that it did.

    Raises `AssertionError` with what it said where it prints no address or does not end in order.
    """
    child = subprocess.Popen(
        list(words), cwd=cwd, env=dict(env), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        start_new_session=True,
    )  # fmt: skip
    guard = Timer(HANGS_S, _end, [child, signal.SIGKILL])
    guard.start()
    said: list[str] = []
    try:
        yield _address(child, said)
    finally:
        _end(child, signal.SIGTERM)
        said.append(child.communicate()[0])
        guard.cancel()
    assert "Ended." in said[-1].splitlines(), "".join(said)


def _address(child: "subprocess.Popen[str]", said: list[str]) -> str:
    assert child.stdout is not None
    for line in child.stdout:
        said.append(line)
        if line.startswith(SAYS):
            return line.removeprefix(SAYS).strip()
    raise AssertionError(f"no address was printed:\n{''.join(said)}")


def _end(child: "subprocess.Popen[str]", by: signal.Signals) -> None:
    """Send a signal to the command and all below it, as a terminal does. What has ended already is left alone."""
    if child.poll() is None:
        os.killpg(child.pid, by)


def got(address: str) -> HTTPResponse:
    """The answer to a GET, its body unread. Raises `HTTPError` for what is no success."""
    answer: HTTPResponse = urlopen(address, timeout=30)
    return answer
