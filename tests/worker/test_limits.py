"""Limits of a process: memory beyond them is refused, and a failure for want of it can still be told."""

import os
import subprocess
import sys

from chalaza.worker.limits import resident_mb

_HUNGRY = """
from chalaza.worker.limits import limit_memory
lift = limit_memory(200)
try:
    held = [bytearray(2**20) for _ in range(1000)]
except MemoryError:
    lift()
    print("refused", len(bytearray(300 * 2**20)) // 2**20)
"""
_CLOSED = """
import threading
from chalaza.worker.limits import on_close
closed = threading.Event()
on_close(closed.set)
print(closed.wait(20))
"""


def _said(code: str) -> str:
    return subprocess.run([sys.executable, "-c", code], input="", capture_output=True, text=True, check=True).stdout


def test_memory_beyond_the_limit_is_refused_until_it_is_lifted() -> None:
    assert _said(_HUNGRY).split() == ["refused", "300"]


def test_the_closing_of_standard_input_is_seen() -> None:
    assert _said(_CLOSED).strip() == "True"


def test_the_size_of_a_process_is_told_and_of_none_is_nothing() -> None:
    assert 10.0 < resident_mb(os.getpid()) < 2000.0
    assert resident_mb(2**22 + 1) == 0.0
