"""Requests reach no network that the internet could not reach itself.

The addresses are examples from the IANA registries of special-purpose addresses for IPv4 and
IPv6, and from the RFCs that they name.
"""

from __future__ import annotations

import pytest

from worker.outgoing.addresses import NameUnknown, allowed, host_and_port, resolve

REFUSED = {
    "this host (RFC 791)": "0.0.0.0",  # noqa: S104 - it is refused
    "private (RFC 1918)": "10.1.2.3",
    "private, second block": "172.31.255.255",
    "private, third block": "192.168.0.1",
    "shared by carriers (RFC 6598)": "100.64.0.1",
    "loopback (RFC 1122)": "127.0.0.1",
    "loopback, further": "127.255.0.1",
    "link-local (RFC 3927), where clouds keep credentials": "169.254.169.254",
    "protocol assignments (RFC 6890)": "192.0.0.8",
    "documentation (RFC 5737)": "192.0.2.1",
    "benchmarks (RFC 2544)": "198.18.0.1",
    "multicast (RFC 5771)": "224.0.0.1",
    "multicast, global": "233.252.0.1",
    "reserved (RFC 1112)": "240.0.0.1",
    "broadcast (RFC 919)": "255.255.255.255",
    "unspecified (RFC 4291)": "::",
    "loopback of IPv6": "::1",
    "IPv4-mapped loopback": "::ffff:127.0.0.1",
    "IPv4-mapped, though public": "::ffff:8.8.8.8",
    "IPv4-compatible": "::8.8.8.8",
    "NAT64 of a private address (RFC 6052)": "64:ff9b::10.0.0.1",
    "local NAT64 (RFC 8215)": "64:ff9b:1::8.8.8.8",
    "unique-local (RFC 4193)": "fd12:3456::1",
    "link-local of IPv6": "fe80::1",
    "link-local with a zone": "fe80::1%eth0",
    "site-local (RFC 3879)": "fec0::1",
    "multicast of IPv6": "ff02::1",
    "multicast of IPv6, global": "ff0e::1",
    "6to4 of a private address (RFC 3056)": "2002:a00:1::1",
    "Teredo (RFC 4380)": "2001:0:4136:e378:8000:63bf:3fff:fdd2",
    "documentation of IPv6 (RFC 3849)": "2001:db8::1",
    "documentation of IPv6, second block (RFC 9637)": "3fff::1",
    "segment routing (RFC 9602)": "5f00::1",
    "relays of 6to4 (RFC 7526)": "192.88.99.1",
    "no address": "localhost",
    "a number": "2130706433",
}


@pytest.mark.parametrize("what", REFUSED)
def test_no_special_network_is_reached(what: str) -> None:
    assert not allowed(REFUSED[what], ())


@pytest.mark.parametrize("address", ["8.8.8.8", "2606:4700::1111", "64:ff9b::8.8.8.8"])
def test_public_addresses_are(address: str) -> None:
    assert allowed(address, ())


def test_what_the_operator_allows_is_reached_and_nothing_beside_it() -> None:
    networks = ("127.0.0.0/8", "fd00::/8")
    assert allowed("127.0.0.1", networks)
    assert allowed("fd12:3456::1", networks)
    for other in ("10.0.0.1", "::1", "169.254.169.254", "::ffff:127.0.0.1"):
        assert not allowed(other, networks)


def test_host_and_port_are_read() -> None:
    assert host_and_port("https://Course.example/") == ("course.example", 443)
    assert host_and_port("http://[fd00::1]:8080/") == ("fd00::1", 8080)


def test_the_systems_resolver_is_asked() -> None:
    assert resolve("127.0.0.1", 443) == ["127.0.0.1"]
    # RFC 6761, 6.4: names below .invalid never exist.
    for name in ("course.invalid", "a" * 64 + ".example"):
        with pytest.raises(NameUnknown):
            resolve(name, 443)
