"""The addresses of this computer: those a phone could reach, without a packet sent."""

import ipaddress
import socket

import pytest

from chalaza.pages import addresses


def test_an_address_of_ours_is_one_that_can_be_listened_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()  # the guard of the tests: here a datagram socket is connected, by which nothing is sent
    found = addresses.own()
    for one in found:
        assert not ipaddress.IPv4Address(one).is_loopback
        with socket.socket() as made:
            made.bind((one, 0))  # the system refuses an address that is not this computer's


def test_each_stands_once_and_those_without_a_network_come_last() -> None:
    told = ["169.254.9.9", "192.168.1.5", "127.0.0.1", "0.0.0.0", "10.0.0.7", "192.168.1.5", "224.0.0.1"]
    assert addresses._usable(told) == ("192.168.1.5", "10.0.0.7", "169.254.9.9")


def test_a_computer_on_no_network_has_none(monkeypatch: pytest.MonkeyPatch) -> None:
    def unreachable(*_: object) -> None:
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(socket.socket, "connect", unreachable)
    assert addresses._by_route() == []
