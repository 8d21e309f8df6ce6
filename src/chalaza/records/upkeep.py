"""What is looked at before a notebook is served: the folder, the disk, the version of the tables, the clock.

The tables are brought up to date with a verified copy first. A notebook that a newer program has kept is refused: its
name stands in the database, where every version of ours can read it.
"""

import os
import shutil
import sqlite3
import sys
import tempfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from chalaza import __version__
from chalaza.errors import NotebookError
from chalaza.records import copies
from chalaza.records import models as m
from chalaza.words.language import mark

#: Below this much room entries are still taken, files are not. [bytes]
LOW_B = 200_000_000
#: A clock may be set right by this much without a question. [s]
CLOCK_SLACK_S = 120
#: Kinds of file systems reached over a network or shared between machines: WAL needs memory that processes share.
REMOTE = frozenset({
    "nfs", "nfs4", "cifs", "smb3", "smbfs", "ncpfs", "9p", "afs", "ceph", "glusterfs", "lustre", "davfs", "virtiofs",
    "vboxsf", "prl_fs", "beegfs", "gpfs", "fuse.sshfs", "fuse.rclone", "fuse.davfs2", "fuse.glusterfs",
    "fuse.curlftpfs", "fuse.s3fs",
})  # fmt: skip
#: Rows of this name in Django's own table of migrations say which versions of ours kept the notebook.
_VERSIONS = "chalaza"
_WAL = mark(
    "A notebook cannot be kept in {folder}: it lies on a network or synchronised drive ({kind}), where a power cut could "
    "damage it. Choose a folder on a disk of this computer: CHALAZA_HOME=/a/folder chalaza serve."
)


# The folder and its disk


def check_folder(folder: Path) -> None:
    """Raises `NotebookError` where a notebook cannot be kept: nothing can be written, or WAL does not hold there."""
    kind = file_system(folder)
    if kind in REMOTE or _is_share(folder):
        raise NotebookError(_WAL, folder=folder, kind=kind or mark("a network share"))
    try:
        with tempfile.TemporaryDirectory(prefix="trial-", dir=folder, ignore_cleanup_errors=True) as scratch:
            held = wal_holds(Path(scratch) / "trial.db")
    except (OSError, sqlite3.Error) as fault:
        text = mark("Nothing can be written in {folder} ({why}). Let this user write there, or choose another folder.")
        raise NotebookError(text, folder=folder, why=fault) from fault
    if not held:
        raise NotebookError(_WAL, folder=folder, kind=kind or "?")


def wal_holds(database: Path, vfs: str = "") -> bool:
    """Whether a database there can be read while it is written, by the shared memory that WAL needs."""
    address = f"{database.absolute().as_uri()}?mode=rwc{'&vfs=' + vfs if vfs else ''}"
    with closing(sqlite3.connect(address, uri=True, isolation_level=None)) as one:
        if one.execute("PRAGMA journal_mode=WAL").fetchone()[0] != "wal":
            return False
        one.execute("CREATE TABLE trial (n)")
        one.execute("BEGIN IMMEDIATE")
        one.execute("INSERT INTO trial VALUES (1)")
        with closing(sqlite3.connect(address, uri=True)) as two:
            before = two.execute("SELECT COUNT(*) FROM trial").fetchone()[0]
            one.execute("COMMIT")
            return (before, two.execute("SELECT COUNT(*) FROM trial").fetchone()[0]) == (0, 1)


def file_system(folder: Path, mounts: str | None = None) -> str:
    """The kind of file system a folder lies on, as the system's list of mounts says; empty where there is no such list."""
    if mounts is None:
        try:
            mounts = Path("/proc/self/mountinfo").read_text(encoding="utf-8", errors="replace")
        except OSError:
            return ""
    place, found, length = folder.resolve(), "", -1
    for line in mounts.splitlines():
        left, dash, right = line.partition(" - ")
        point = left.split()[4].encode().decode("unicode_escape") if dash and len(left.split()) > 4 else ""
        if point and place.is_relative_to(point) and len(point) >= length:  # a later mount hides an earlier one
            found, length = right.split()[0], len(point)
    return found


def _is_share(folder: Path) -> bool:
    """Whether the system says that a folder lies on another machine (only one system is asked this way)."""
    if sys.platform != "win32":
        return False
    import ctypes

    drive = os.path.splitdrive(folder.resolve())[0]
    return drive.startswith("\\\\") or ctypes.windll.kernel32.GetDriveTypeW(f"{drive}\\") == 4


def room_b(folder: Path) -> int:
    """Free bytes on the disk of a folder."""
    return shutil.disk_usage(folder).free


def refuse_without_room(folder: Path, wanted_b: int = 0) -> None:
    """Raises `NotebookError` where the disk has no room for a file of `wanted_b`. Reading and entries go on."""
    free = room_b(folder)
    if free < LOW_B + wanted_b:
        raise NotebookError(
            mark("The disk has {free} MB left; {wanted} MB are wanted for this. Make room, then try again; entries still work."),
            free=free // 1_000_000, wanted=-(-(LOW_B + wanted_b) // 1_000_000),
        )  # fmt: skip


# The tables and their version


@dataclass(frozen=True, slots=True)
class Standing:
    """How the tables stand to this program: steps missing, steps it does not know, the version that kept them last."""

    empty: bool
    behind: tuple[str, ...]
    ahead: tuple[str, ...]
    version: str


@dataclass(frozen=True, slots=True)
class Brought:
    """What was done to the tables: the steps, and the copy taken before (none for a new notebook)."""

    steps: tuple[str, ...]
    copy: copies.Kept | None


def standing() -> Standing:
    """Compare the steps of this program with those of the database."""
    executor = MigrationExecutor(connection)
    known = set(executor.loader.disk_migrations)
    applied = [key for key in executor.loader.applied_migrations if key[0] != _VERSIONS]
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return Standing(
        empty=not applied,
        behind=tuple(one.name for one, _ in plan),
        ahead=tuple(sorted(name for app, name in applied if (app, name) not in known)),
        version=last_version(),
    )


def remember_version(using: str = DEFAULT_DB_ALIAS) -> None:
    """Write down that this version keeps the notebook."""
    if last_version(using) != __version__:
        MigrationRecorder(connections[using]).record_applied(_VERSIONS, __version__)


def last_version(using: str = DEFAULT_DB_ALIAS) -> str:
    """The version of the program that last kept this notebook; empty for a new one."""
    recorder = MigrationRecorder(connections[using])
    if not recorder.has_table():
        return ""
    found = recorder.migration_qs.filter(app=_VERSIONS).order_by("-id").values_list("name", flat=True).first()
    return found or ""


def refuse_newer(found: Standing) -> None:
    """Raises `NotebookError` naming the version to use, where a newer program has kept this notebook."""
    if not found.ahead:
        return
    if not found.version:
        text = mark("This notebook was last kept by a newer Chalaza; {own} does not know how. Use the newer one.")
        raise NotebookError(text, own=__version__)
    raise NotebookError(
        mark("This notebook was last kept by Chalaza {version}; {own} does not know how. Use {version} or newer."),
        version=found.version, own=__version__,
    )  # fmt: skip


def bring_up_to_date(folder: Path, now: int, *, copied: bool = False) -> Brought:
    """Bring the tables to this version, a verified copy of the notebook first.

    `copied`: the keeper says that a copy was made; needed on a server database, which we do not copy. Raises
    `NotebookError` for a newer notebook, for no room, and where a copy must be made by hand.
    """
    found = standing()
    refuse_newer(found)
    copy = None
    if found.behind:
        if not found.empty:
            copy = _copy(folder, now, copied)
        executor = MigrationExecutor(connection)
        executor.migrate(executor.loader.graph.leaf_nodes())
    remember_version()
    m.Keeper.objects.the_one()
    return Brought(found.behind, copy)


def _copy(folder: Path, now: int, copied: bool) -> copies.Kept | None:
    database = database_file()
    if database is not None:
        refuse_without_room(folder, 2 * database.stat().st_size)
        return copies.keep(folder, database, "migration", now)
    if not copied:
        text = mark(
            "The tables in {name} must be brought up to date. Make a copy first (pg_dump --format=custom --file="
            "before.dump {name}), then say: chalaza serve --copied."
        )
        raise NotebookError(text, name=connection.settings_dict["NAME"])
    return None


def database_file() -> Path | None:
    """The file of the notebook; None on a database server."""
    return Path(connection.settings_dict["NAME"]) if connection.vendor == "sqlite" else None


# The clock


def clock_doubt(now: int) -> int | None:
    """The moment of the newest act, where the clock stands before it: then the clock is asked about, not believed."""
    newest = m.Act.objects.order_by("-at", "-id").values_list("at", flat=True).first()
    return newest if newest is not None and now < newest - CLOCK_SLACK_S else None
