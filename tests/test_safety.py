"""The page that says what is tried names tests that are there, and each row has one."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "safety.md"


def test_every_row_names_tests_and_every_test_is_there() -> None:
    rows = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")][1:]
    assert len(rows) > 20
    missing = []
    for row in rows:
        named = re.findall(r"`(tests/[\w/]+\.py)::(test_\w+)`", row)
        assert named, row
        for path, name in named:
            file = ROOT / path
            if not file.is_file() or f"def {name}(" not in file.read_text(encoding="utf-8"):
                missing.append(f"{path}::{name}")
    assert missing == []
