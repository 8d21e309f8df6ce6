"""The server: where it listens, what it refuses, and that an entry it acknowledged outlives its sudden end."""

import http.client
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
from contextlib import closing, suppress
from pathlib import Path
from threading import Condition, Event, Thread
from time import sleep

import pytest
from tests.records.notebooks import surroundings

from chalaza.errors import NotebookError
from chalaza.pages import addresses, server

_KILLED = Path(__file__).with_name("killed.py")


@pytest.fixture
def taken() -> int:
    """A port that another program holds."""
    made = socket.create_server(("127.0.0.1", 0))
    with made:
        yield made.getsockname()[1]


def _ports(sockets: list[socket.socket]) -> set[int]:
    found = {one.getsockname()[1] for one in sockets}
    for one in sockets:
        one.close()
    return found


def test_it_listens_at_this_computer_alone() -> None:
    sockets = server.listen(0, home=False)
    hosts = {one.getsockname()[0] for one in sockets}
    assert hosts <= {"127.0.0.1", "::1"}
    assert server.address(sockets) == f"http://127.0.0.1:{sockets[0].getsockname()[1]}/"
    assert server.home_addresses(sockets) == []
    assert len(_ports(sockets)) == 1


def test_with_the_home_network_its_addresses_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(addresses, "own", lambda: ("192.168.7.5",))
    sockets = server.listen(0, home=True)
    assert sockets[0].getsockname()[0] == "0.0.0.0"
    (port,) = {one.getsockname()[1] for one in sockets}
    assert server.home_addresses(sockets) == [f"http://192.168.7.5:{port}/"]
    _ports(sockets)


def test_a_port_that_is_taken_is_said_with_another_to_try(taken: int) -> None:
    with pytest.raises(NotebookError, match=rf"Port {taken} is taken by another program.*--port \d+"):
        server.listen(taken, home=False)


def test_without_a_port_asked_for_the_next_free_one_is_taken(taken: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "PORT", taken)
    (port,) = _ports(server.listen(None, home=False))
    assert taken < port < taken + server.TRIED


def test_where_all_are_taken_a_port_is_asked_for(taken: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "PORT", taken)
    monkeypatch.setattr(server, "TRIED", 1)
    with pytest.raises(NotebookError, match=r"are all taken: choose a free one"):
        server.listen(None, home=False)


def test_a_port_just_let_go_can_be_taken_again() -> None:
    first = server.listen(0, home=False)
    port = first[0].getsockname()[1]
    with socket.create_connection(("127.0.0.1", port)) as client:
        accepted, _ = first[0].accept()
        accepted.close()  # this end closes first: the system keeps the pair of ports in mind for a while
        client.recv(1)
    _ports(first)
    assert _ports(server.listen(port, home=False)) == {port}


def test_a_file_of_256_mb_may_come_and_a_connection_may_not_idle() -> None:
    assert 256 * 2**20 < server.LIMITS["max_request_body_size"] < 260 * 2**20
    assert server.LIMITS["max_request_header_size"] <= 65_536
    assert server.LIMITS["channel_timeout"] <= 120
    assert server.LIMITS["threads"] == 6
    assert server.LIMITS["trusted_proxy"] is None


class _Clients:
    """Three browsers that enter one thing after another and keep in mind what was acknowledged."""

    def __init__(self, port: int) -> None:
        self.port, self.sent, self.acknowledged = port, set[str](), set[str]()
        self._stop, self._news = Event(), Condition()
        self._threads = [Thread(target=self._enter, args=(n,)) for n in range(3)]

    def __enter__(self) -> "_Clients":
        for one in self._threads:
            one.start()
        return self

    def __exit__(self, *exc: object) -> None:
        self._stop.set()
        for one in self._threads:
            one.join()

    def wait_for(self, more: int) -> None:
        """Until so many more entries are acknowledged."""
        with self._news:
            wanted = len(self.acknowledged) + more
            assert self._news.wait_for(lambda: len(self.acknowledged) >= wanted, timeout=60)

    def _enter(self, n: int) -> None:
        count = 0
        while not self._stop.is_set():
            uid, count = f"{n}-{count}", count + 1
            self.sent.add(uid)
            while uid not in self.acknowledged and not self._stop.is_set():
                with suppress(OSError, http.client.HTTPException):  # it died under us: the same entry is sent again
                    self._send(uid)

    def _send(self, uid: str) -> None:
        host = f"127.0.0.1:{self.port}"
        with closing(http.client.HTTPConnection(host, timeout=20)) as one:
            one.request("POST", f"/enter/{uid}/", headers={"Origin": f"http://{host}"})
            answer = one.getresponse()
            if answer.status == 200 and answer.read() == uid.encode():
                with self._news:
                    self.acknowledged.add(uid)
                    self._news.notify_all()
            elif answer.status != 200:
                raise AssertionError(f"{answer.status}: {answer.read()[:300]!r}")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the serving process is forked, which this system cannot")
@pytest.mark.parametrize("kills", [50, pytest.param(500, marks=pytest.mark.soak)])
def test_acknowledged_entries_outlive_a_kill_at_any_moment_and_none_is_half(tmp_path: Path, kills: int) -> None:
    moments, least = random.Random(20), 0
    words, env = [sys.executable, str(_KILLED)], surroundings(tmp_path)
    with subprocess.Popen(words, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as host:
        assert host.stdin is not None
        assert host.stdout is not None
        with _Clients(int(host.stdout.readline())) as clients:
            for _ in range(kills):
                child = _begin(host)
                more = moments.choice((0, 0, 1, 2, 3, 5, 8, 13))
                clients.wait_for(more)
                sleep(moments.uniform(0.0, 0.03))  # the moment of the kill, not a wait for anything
                _kill(host, child)
                least += more
            last = _begin(host)  # whoever waits for an answer now gets one
        _kill(host, last)
        host.stdin.close()
    assert len(clients.acknowledged) >= least > 2 * kills
    _whole(tmp_path / "notebook.db", clients)


def _begin(host: "subprocess.Popen[str]") -> int:
    """Let a process serve; its number."""
    assert host.stdin is not None
    assert host.stdout is not None
    host.stdin.write("\n")
    host.stdin.flush()
    return int(host.stdout.readline())


def _kill(host: "subprocess.Popen[str]", child: int) -> None:
    assert host.stdout is not None
    os.kill(child, signal.SIGKILL)
    assert host.stdout.readline().strip() == "gone"


def _whole(database: Path, clients: _Clients) -> None:
    """Every acknowledged entry is there, and each that is there is whole: act, two rows, two changes."""
    with closing(sqlite3.connect(database)) as found:
        assert found.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert found.execute("PRAGMA foreign_key_check").fetchall() == []
        kept, places, machines = (
            {uid.removeprefix(before) for (uid,) in found.execute(f"SELECT uid FROM records_{table}")}
            for table, before in (("act", ""), ("place", "place-"), ("machine", "machine-"))
        )
        changes = found.execute(
            "SELECT a.uid, COUNT(*) FROM records_change c JOIN records_act a ON a.id = c.act_id GROUP BY a.uid"
        ).fetchall()
    assert kept == places == machines
    assert dict(changes) == dict.fromkeys(kept, 2)
    assert clients.acknowledged <= kept <= clients.sent
