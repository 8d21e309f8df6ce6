"""The addresses of this computer on the networks it is in. No packet is sent to find them."""

import ipaddress
import socket
import sys
from collections.abc import Iterable

#: Addresses nobody has, each in a range of its own: the system says from which address of ours it would reach them.
_ASKED = ("192.0.2.1", "10.255.255.254", "172.31.255.254", "192.168.255.254")


def own() -> tuple[str, ...]:
    """IPv4 addresses of this computer that others may reach; first the one that most of the network is reached from."""
    return _usable([*_by_route(), *_by_card()])


def _usable(found: Iterable[str]) -> tuple[str, ...]:
    seen = [ipaddress.IPv4Address(one) for one in dict.fromkeys(found)]
    usable = [one for one in seen if not (one.is_loopback or one.is_unspecified or one.is_multicast)]
    return tuple(str(one) for one in sorted(usable, key=lambda one: one.is_link_local))


def _by_route() -> list[str]:
    found = []
    for address in _ASKED:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
            try:
                asked.connect((address, 9))
                found.append(str(asked.getsockname()[0]))
            except OSError:  # no way leads there
                continue
    return found


if sys.platform == "linux":
    import fcntl
    import struct

    _SIOCGIFADDR = 0x8915

    def _by_card() -> list[str]:
        found = []
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
            for _, name in socket.if_nameindex():
                try:
                    told = fcntl.ioctl(asked, _SIOCGIFADDR, struct.pack("256s", name.encode()[:15]))
                except OSError:  # a card without an address
                    continue
                found.append(socket.inet_ntoa(told[20:24]))
        return found
else:

    def _by_card() -> list[str]:
        return []
