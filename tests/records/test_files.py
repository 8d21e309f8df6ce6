"""Files kept: known by their content, whole or not at all, within limits that are said in words."""

import os
from collections import namedtuple

import pytest

from chalaza.records import files
from chalaza.records.files import FileRefused

_Usage = namedtuple("_Usage", "total used free")  # as the standard library gives it


def _names() -> set[str]:
    return {one.name for one in files.folder().iterdir()}


def test_a_file_is_known_by_what_is_in_it_and_kept_once() -> None:
    first = files.keep([b"ab", b"c"])
    assert files.keep([b"abc"]) == first
    # FIPS 180-2, appendix B.1: the digest of "abc".
    assert first.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert files.path(first.sha256).read_bytes() == b"abc"
    assert os.stat(files.path(first.sha256)).st_mode & 0o077 == 0
    files.drop(first.sha256)
    assert first.sha256 not in _names()
    files.drop(first.sha256)


def test_a_file_that_is_too_large_is_refused_in_words_and_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "MOST_BYTES", 2**20)
    before = _names()
    with pytest.raises(FileRefused, match=r"The file has 1 MB; at most 1 MB are taken in at once\. Split it"):
        files.keep([b"x" * 2**20, b"y"])
    assert _names() == before


def test_a_full_disk_refuses_files_and_says_that_entries_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    before = _names()
    monkeypatch.setattr(files.shutil, "disk_usage", lambda place: _Usage(1, 1, 150 * 2**20))
    with pytest.raises(FileRefused, match=r"150 MB left, and 200 MB must stay free.*other entries are still kept"):
        files.keep([b"x"])
    assert _names() == before


def test_a_file_that_would_fill_the_disk_is_refused_before_it_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files.shutil, "disk_usage", lambda place: _Usage(1, 1, 300 * 2**20))
    files.check_room(50 * 2**20)
    with pytest.raises(FileRefused, match="Make room"):
        files.check_room(150 * 2**20)


@pytest.mark.parametrize("name", ["", "../secret", "x" * 64, "A" * 64, "notebook.db", "/etc/passwd"])
def test_only_a_content_is_a_name(name: str) -> None:
    with pytest.raises(FileRefused):
        files.path(name)


def test_the_head_of_a_file_ends_with_a_whole_line() -> None:
    kept = files.keep([b"one\ntwo\nthree\n"])
    assert files.head(kept.sha256, 9) == b"one\ntwo\n"
    assert files.head(kept.sha256, 100) == b"one\ntwo\nthree\n"
    assert files.head(kept.sha256, 2) == b"on"
    files.drop(kept.sha256)
    with pytest.raises(FileRefused, match="Send it again"):
        files.head(kept.sha256, 9)
