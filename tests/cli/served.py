"""`chalaza serve` as a keeper starts it: a process of its own, its pages reached by HTTP."""

import http.client
import json
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from tests.records.notebooks import surroundings


class Served:
    """A serving process that has told its address."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        assert process.stdout is not None
        self.process = process
        line = process.stdout.readline()
        self.told: dict[str, Any] = json.loads(line) if line.startswith("{") else {}

    @property
    def port(self) -> int:
        """The port it listens on."""
        return int(urlsplit(self.told["address"]).port or 0)

    def ask(self, path: str, method: str = "GET", body: bytes = b"", **headers: str) -> tuple[int, bytes]:
        """Status and body of an answer."""
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)) as one:
            one.request(method, path, body, {name.replace("_", "-"): value for name, value in headers.items()})
            answer = one.getresponse()
            return answer.status, answer.read()

    def end(self, how: int = signal.SIGINT) -> tuple[int, str]:
        """End it as a keeper does, or worse; its exit code and what it said on standard error."""
        self.process.send_signal(how)
        _, said = self.process.communicate(timeout=30)
        return self.process.returncode, said


@contextmanager
def serving(folder: Path, *words: str, **env: str) -> Iterator[Served]:
    """The notebook in `folder`, served at a free port until it is ended or the test is over."""
    asked = [sys.executable, "-m", "chalaza", "serve", "--port", "0", "--json", *words]
    pipe = subprocess.PIPE
    with subprocess.Popen(
        asked, env=surroundings(folder, **env), stdin=subprocess.DEVNULL, stdout=pipe, stderr=pipe, text=True
    ) as process:
        try:
            yield Served(process)
        finally:
            if process.poll() is None:
                process.kill()


def chalaza(folder: Path, *words: str, cwd: Path | None = None, **env: str) -> "subprocess.CompletedProcess[str]":
    """Another command on the same notebook, run to its end."""
    asked = [sys.executable, "-m", "chalaza", *words]
    return subprocess.run(
        asked, env=surroundings(folder, **env), cwd=cwd, stdin=subprocess.DEVNULL, capture_output=True, text=True,
        timeout=60, check=False,
    )  # fmt: skip
