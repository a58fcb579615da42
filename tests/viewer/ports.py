"""Ports for servers that are ended and started again at one address."""

from __future__ import annotations

import random
import socket
from pathlib import Path

FIRST, FEW = 12_000, 2_000


def free_port() -> int:
    """A port that nothing listens at now, and that the system hands to nobody by itself.

    One from bind(0) is of the range that connections get their own end from: while a test's server
    is down, any connection of this machine could take it, even one that asks for that very port.
    """
    given = Path("/proc/sys/net/ipv4/ip_local_port_range")
    lowest = int(given.read_text().split()[0]) if given.exists() else 32_768
    if lowest < FIRST + FEW:
        lowest = 32_768
    for port in random.SystemRandom().sample(range(FIRST, lowest), 200):
        with socket.socket() as found:
            try:
                found.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise AssertionError("two hundred ports were tried and all are taken")
