"""`chalaza serve`: it starts, answers, refuses what it must, ends cleanly, and starts again after a sudden end."""

import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import psutil
import pytest
from tests.cli.helpers import process
from tests.cli.served import Served, chalaza, serving
from tests.records import notebooks
from tests.records.demo import NOW
from tests.records.notebooks import change, copied, rows

from chalaza import __version__
from chalaza.pages import addresses
from chalaza.records import copies
from chalaza.records import serving as lock


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return copied(notebooks.filled(), tmp_path_factory.mktemp("served") / "notebook")


@pytest.fixture(scope="module")
def served(folder: Path) -> Iterator[Served]:
    with serving(folder, CHALAZA_CLOCK=str(NOW)) as one:
        yield one


# What it answers and refuses


def test_it_tells_where_it_answers_and_answers_there(served: Served, folder: Path) -> None:
    assert served.told["folder"] == str(folder)
    assert served.told["home"] == []
    status, body = served.ask("/notebook/")
    assert status == 200
    assert str(folder).encode() in body


def test_a_second_one_names_the_address_of_the_first_and_ends(served: Served, folder: Path) -> None:
    second = chalaza(folder, "serve")
    assert second.returncode == 1
    assert second.stdout == ""
    assert f"served already, at {served.told['address']}" in second.stderr


def test_a_rebound_name_is_refused_by_the_server_itself(served: Served) -> None:
    assert served.ask("/notebook/", Host=f"evil.example:{served.port}")[0] == 400
    assert served.ask("/notebook/", Host=f"localhost:{served.port}")[0] == 200
    assert served.ask("/notebook/", Host="localhost")[0] == 400
    assert served.ask("/notebook/", Host="localhost", X_Forwarded_Host=f"localhost:{served.port}")[0] == 400


def test_a_change_without_origin_is_refused_by_the_server_itself(served: Served) -> None:
    assert served.ask("/notebook/backup/", "POST")[0] == 403
    host = f"http://127.0.0.1:{served.port}"
    assert b"too old" in served.ask("/notebook/backup/", "POST", Origin=host)[1]


def test_static_files_are_kept_for_good_and_carry_the_policy(served: Served) -> None:
    page = served.ask("/notebook/")[1].decode()
    path = page.split('href="')[2].split('"')[0]
    assert path.startswith("/static/")
    with closing(__import__("http.client").client.HTTPConnection("127.0.0.1", served.port)) as one:
        one.request("GET", path)
        answer = one.getresponse()
        answer.read()
    assert answer.status == 200
    assert "immutable" in str(answer.headers["Cache-Control"])
    assert str(answer.headers["Content-Security-Policy"]).startswith("default-src 'self'")
    assert answer.headers["Server"] is None


def test_a_header_beyond_the_limit_and_a_file_beyond_the_limit_are_refused(served: Served) -> None:
    assert served.ask("/notebook/", Cookie="x" * 40_000)[0] == 431
    # The length is announced and nothing is sent: it is refused before it could be taken in.
    with socket.create_connection(("127.0.0.1", served.port), timeout=30) as one:
        head = f"POST /notebook/restore/ HTTP/1.1\r\nHost: localhost:{served.port}\r\nContent-Length: {300 * 2**20}\r\n\r\n"
        one.sendall(head.encode())
        assert b" 413 " in one.recv(200)


def test_it_listens_at_this_computer_alone_unless_asked(served: Served) -> None:
    found = [one for one in psutil.Process(served.process.pid).net_connections() if one.status == psutil.CONN_LISTEN]
    assert {one.laddr.ip for one in found} <= {"127.0.0.1", "::1"}


def test_the_folder_and_its_secret_are_for_their_owner_alone(served: Served, tmp_path: Path) -> None:
    fresh = tmp_path / "new" / "notebook"
    with serving(fresh) as one:
        assert one.ask("/notebook/")[0] == 200
        assert fresh.stat().st_mode & 0o077 == 0
        assert (fresh / "secret").stat().st_mode & 0o077 == 0
        assert (fresh / lock.NAME).stat().st_mode & 0o077 == 0


def test_on_the_home_network_a_stranger_sees_one_page(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with serving(copied(notebooks.filled(), tmp_path / "notebook"), "--home") as one:
        if not one.told["home"]:
            pytest.skip("this computer is on no network, so nobody can come from there")
        code = (
            "import sys, urllib.request, urllib.error\n"
            "try:\n    urllib.request.urlopen(sys.argv[1] + 'notebook/', timeout=20)\n"
            "except urllib.error.HTTPError as answer:\n    print(answer.code, answer.read().decode())\n"
        )
        # Another process asks, because a test itself may not reach beyond loopback.
        words = [sys.executable, "-c", code, one.told["home"][0]]
        said = subprocess.run(words, capture_output=True, text=True, check=True, timeout=60).stdout
        assert said.startswith("403 ")
        assert "This phone is not let in" in said
        assert one.ask("/notebook/")[0] == 200


# Starting and ending


def test_ctrl_c_ends_it_cleanly_and_lets_go_of_everything(tmp_path: Path) -> None:
    folder = copied(notebooks.filled(), tmp_path / "notebook")
    with serving(folder) as one:
        assert one.ask("/notebook/")[0] == 200
        children = psutil.Process(one.process.pid).children(recursive=True)
        code, said = one.end(signal.SIGINT)
    assert (code, said) == (0, "Ended.\n")
    assert not lock.is_held(folder)
    assert children != []
    assert psutil.wait_procs(children, timeout=20)[1] == []
    assert rows(folder / "notebook.db", "records_batch")


def test_the_signal_to_end_is_heeded_as_well(tmp_path: Path) -> None:
    with serving(tmp_path / "notebook") as one:
        assert one.end(signal.SIGTERM) == (0, "Ended.\n")


def test_after_a_sudden_end_it_starts_again_with_all_that_was_there(tmp_path: Path) -> None:
    folder = copied(notebooks.filled(), tmp_path / "notebook")
    with serving(folder) as one:
        assert one.ask("/notebook/")[0] == 200
        children = psutil.Process(one.process.pid).children(recursive=True)
        one.end(signal.SIGKILL)
    assert psutil.wait_procs(children, timeout=20)[1] == []  # no worker outlives its holder
    with serving(folder) as again:
        status, body = again.ask("/notebook/")
    assert status == 200
    assert b"3 batches" in body


def test_a_port_that_is_taken_is_a_sentence_and_not_a_trace(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        asked = chalaza(tmp_path / "notebook", "serve", "--port", str(port))
        by_variable = chalaza(tmp_path / "notebook", "serve", PORT=str(port))
    for said in (asked, by_variable):
        assert said.returncode == 1
        assert said.stderr.startswith(f"Port {port} is taken by another program")
    assert not lock.is_held(tmp_path / "notebook")


@pytest.mark.parametrize("port", ["no", "-1", "70000"])
def test_a_port_that_is_none_is_a_usage_mistake(tmp_path: Path, port: str) -> None:
    assert chalaza(tmp_path, "serve", "--port", port).returncode == 2


def test_a_notebook_that_is_behind_is_copied_and_it_says_so(tmp_path: Path) -> None:
    folder = notebooks.fill(tmp_path / "old", step="0001_the_notebook")
    with serving(folder) as one:
        assert one.ask("/notebook/")[0] == 200
        _, said = one.end()
    (copy,) = copies.kept(folder)
    assert f"kept for 30 days: {copy.path}" in said


def test_a_notebook_of_a_newer_version_is_refused_by_name(tmp_path: Path) -> None:
    folder = copied(notebooks.filled(), tmp_path / "notebook")
    later = "INSERT INTO django_migrations (app, name, applied) VALUES ('{}', '{}', '2031-01-01')"
    change(folder / "notebook.db", later.format("records", "0099_later"), later.format("chalaza", "5.0.0"))
    said = chalaza(folder, "serve")
    assert said.returncode == 1
    assert f"last kept by Chalaza 5.0.0; {__version__} does not know how" in said.stderr


def test_a_clock_before_the_newest_entry_is_not_believed_unless_somebody_says_so(tmp_path: Path) -> None:
    folder = copied(notebooks.filled(), tmp_path / "notebook")
    early = str(NOW - 86_400 * 400)
    said = chalaza(folder, "serve", CHALAZA_CLOCK=early)
    assert said.returncode == 1
    assert "the newest entry is of" in said.stderr
    assert "--clock-is-right" in said.stderr
    with serving(folder, "--clock-is-right", CHALAZA_CLOCK=early) as one:
        assert one.ask("/notebook/")[0] == 200


def test_a_database_address_that_is_none_is_a_sentence(tmp_path: Path) -> None:
    said = chalaza(tmp_path, "serve", DATABASE_URL="mysql://x/y")
    assert said.returncode == 1
    assert "DATABASE_URL must look like postgresql://" in said.stderr


def test_old_copies_are_taken_away_at_the_start(tmp_path: Path) -> None:
    folder = copied(notebooks.filled(), tmp_path / "notebook")
    old = copies.keep(folder, folder / "notebook.db", "restore", NOW - 40 * 86_400)
    new = copies.keep(folder, folder / "notebook.db", "restore", NOW)
    with serving(folder, CHALAZA_CLOCK=str(NOW + 3600)) as one:
        one.ask("/notebook/")
    assert [one.path for one in copies.kept(folder)] == [new.path]
    assert not old.path.exists()


def test_what_is_said_for_people_has_the_address_first(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "chalaza", "serve", "--port", "0", "--home"]
    env = notebooks.surroundings(tmp_path / "notebook")
    with subprocess.Popen(words, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as one:
        assert one.stdout is not None
        first = one.stdout.readline()
        one.send_signal(signal.SIGINT)
        rest = one.stdout.read()
    assert first.startswith("Chalaza answers at http://127.0.0.1:")
    assert "End with Ctrl-C." in rest
    assert "Whoever listens on that network could read along" in rest
    assert ("On the home network: http://" in rest) == bool(addresses._by_card())


def test_serving_is_not_imported_by_the_help(tmp_path: Path) -> None:
    code = (
        "import sys\nfrom chalaza.cli.main import main\n"
        "try:\n    main(['serve', '--help'], prog_name='chalaza')\nexcept SystemExit as end:\n    assert end.code == 0\n"
        "heavy = {'django', 'waitress', 'numpy', 'sqlite3'} & set(sys.modules)\nassert not heavy, heavy"
    )
    done = process(code=code)
    assert done.returncode == 0, done.stderr
