"""What is looked at before a notebook is served: its folder, its disk, its version, the clock."""

import shutil
import subprocess
import sys
from collections import namedtuple
from pathlib import Path

import pytest

from chalaza import __version__
from chalaza.errors import NotebookError
from chalaza.records import acts, copies, upkeep
from chalaza.records import models as m

from .demo import NOW
from .notebooks import change, rows, surroundings

_MOUNTS = """\
22 1 254:0 / / rw,relatime shared:1 - ext4 /dev/disk rw
30 22 0:44 / /media/far rw,relatime - nfs4 far:/eggs rw
31 22 0:45 / /media/far/near rw,relatime - ext4 /dev/near rw
32 22 0:46 / /media/with\\040blank rw - cifs //far/eggs rw
33 22 0:47 / /media/far/twice rw - ext4 /dev/a rw
34 22 0:48 / /media/far/twice rw - fuse.sshfs far: rw
broken line
"""
_BRING = """
import sys
from chalaza.records.notebook import open_records
open_records()
from django.core.management import call_command
from chalaza.errors import NotebookError
from chalaza.records import home, upkeep
if len(sys.argv) > 1:
    call_command("migrate", "records", sys.argv[1], verbosity=0)
else:
    try:
        done = upkeep.bring_up_to_date(home.folder(), 1_776_444_000)
        print(len(done.steps), "copied" if done.copy else "not copied")
    except NotebookError as refused:
        print(refused)
"""
_Usage = namedtuple("_Usage", "total used free")


def _bring(folder: Path, *step: str, **env: str) -> str:
    words = [sys.executable, "-c", _BRING, *step]
    done = subprocess.run(words, env=surroundings(folder, **env), capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


# The folder


def test_a_folder_on_a_disk_of_this_computer_will_do_and_nothing_is_left_in_it(tmp_path: Path) -> None:
    upkeep.check_folder(tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("folder", "kind"),
    [("/media/near", "ext4"), ("/media/far", "nfs4"), ("/media/far/deep/er", "nfs4"), ("/media/far/near", "ext4"),
     ("/media/farther", "ext4"), ("/media/with blank/x", "cifs"), ("/media/far/twice", "fuse.sshfs")],
)  # fmt: skip
def test_the_kind_of_file_system_is_that_of_the_nearest_mount(folder: str, kind: str) -> None:
    assert upkeep.file_system(Path(folder), _MOUNTS) == kind


def test_a_folder_on_a_network_drive_is_refused_with_a_way_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(upkeep, "file_system", lambda _: "nfs4")
    with pytest.raises(NotebookError, match=r"network or synchronised drive \(nfs4\).*CHALAZA_HOME=") as refused:
        upkeep.check_folder(tmp_path)
    assert str(tmp_path) in str(refused.value)


def test_where_processes_share_no_memory_wal_does_not_hold(tmp_path: Path) -> None:
    # This way of locking, by files beside the database, is what remains on drives without shared memory.
    assert upkeep.wal_holds(tmp_path / "near.db")
    assert not upkeep.wal_holds(tmp_path / "far.db", vfs="unix-dotfile")


def test_a_folder_where_wal_does_not_hold_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    held = upkeep.wal_holds
    monkeypatch.setattr(upkeep, "wal_holds", lambda database: held(database, vfs="unix-dotfile"))
    with pytest.raises(NotebookError, match="network or synchronised drive"):
        upkeep.check_folder(tmp_path)


def test_a_folder_in_which_nothing_can_be_written_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NotebookError, match=r"Nothing can be written in .*choose another folder"):
        upkeep.check_folder(tmp_path / "missing")


def test_a_full_disk_refuses_files_and_says_how_much_is_wanted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    upkeep.refuse_without_room(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: _Usage(10**9, 10**9, 199_000_000))
    with pytest.raises(NotebookError, match=r"199 MB left; 210 MB are wanted.*entries still work"):
        upkeep.refuse_without_room(tmp_path, 10_000_000)


# The tables


def test_a_new_notebook_is_made_without_a_copy_and_knows_its_version(tmp_path: Path) -> None:
    steps, copied = _bring(tmp_path).split(" ", 1)
    assert int(steps) >= 2
    assert copied == "not copied"
    assert not (tmp_path / copies.FOLDER).exists()
    assert ("chalaza", __version__) in [row[1:3] for row in rows(tmp_path / "notebook.db", "django_migrations")]
    assert len(rows(tmp_path / "notebook.db", "records_keeper")) == 1
    assert _bring(tmp_path) == "0 not copied"


def test_a_notebook_that_is_behind_is_copied_first_then_brought_up_to_date(tmp_path: Path) -> None:
    _bring(tmp_path, "0001_the_notebook")
    database = tmp_path / "notebook.db"
    change(database, "INSERT INTO records_place (uid, name, altitude_m, zone) VALUES ('p', 'Shed', 1.0, 'UTC')")
    steps, copied = _bring(tmp_path).split(" ", 1)
    assert int(steps) >= 1
    assert copied == "copied"
    (copy,) = copies.kept(tmp_path)
    assert copy.before == "migration"
    assert [row[2] for row in rows(copy.path, "records_place")] == ["Shed"]
    assert [row[2] for row in rows(database, "records_place")] == ["Shed"]
    assert len(rows(copy.path, "django_migrations")) == 1
    assert len(rows(database, "django_migrations")) > 2


def test_a_notebook_of_a_newer_program_is_refused_and_the_version_named(tmp_path: Path) -> None:
    _bring(tmp_path)
    database = tmp_path / "notebook.db"
    change(
        database,
        "INSERT INTO django_migrations (app, name, applied) VALUES ('records', '0099_later', '2031-01-01')",
        "INSERT INTO django_migrations (app, name, applied) VALUES ('chalaza', '7.1.0', '2031-01-01')",
    )
    before = database.read_bytes()
    said = _bring(tmp_path)
    assert f"last kept by Chalaza 7.1.0; {__version__} does not know how. Use 7.1.0 or newer" in said
    assert database.read_bytes() == before
    change(database, "DELETE FROM django_migrations WHERE app = 'chalaza'")
    assert "last kept by a newer Chalaza" in _bring(tmp_path)


def test_a_notebook_kept_by_another_version_learns_that_this_one_keeps_it_now(tmp_path: Path) -> None:
    _bring(tmp_path)
    change(tmp_path / "notebook.db", "UPDATE django_migrations SET name = '0.0.1' WHERE app = 'chalaza'")
    _bring(tmp_path)
    versions = [row[2] for row in rows(tmp_path / "notebook.db", "django_migrations") if row[1] == "chalaza"]
    assert versions == ["0.0.1", __version__]


@pytest.mark.django_db
def test_the_tables_of_the_tests_stand_as_this_program_wants_them() -> None:
    found = upkeep.standing()
    assert (found.empty, found.behind, found.ahead) == (False, (), ())
    upkeep.refuse_newer(found)


@pytest.mark.django_db
def test_on_a_server_a_copy_is_asked_for_and_not_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(upkeep, "database_file", lambda: None)
    with pytest.raises(NotebookError, match=r"pg_dump --format=custom.*chalaza serve --copied"):
        upkeep._copy(tmp_path, NOW, copied=False)
    assert upkeep._copy(tmp_path, NOW, copied=True) is None


# The clock


@pytest.mark.django_db
def test_a_clock_before_the_newest_act_is_doubted_and_a_little_behind_is_not() -> None:
    assert upkeep.clock_doubt(NOW) is None
    done = acts.act(m.Keeper.objects.the_one(), "add", save=[m.Place(name="Shed")])
    assert upkeep.clock_doubt(done.at) is None
    assert upkeep.clock_doubt(done.at - upkeep.CLOCK_SLACK_S) is None
    assert upkeep.clock_doubt(done.at - upkeep.CLOCK_SLACK_S - 1) == done.at
