"""How long an answer takes: one person, and five at once, each recording findings with the brush.

Beside it stands what the shape alone takes of it (outline, pieces, distances to ribs and rows), in
the same run. Loopback, one server process. The goal is held in seconds of the processor: what else
the machine does has no say in that.
"""

from __future__ import annotations

import os
import statistics
import threading
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import pytest

from mapper.job.outlines import new_entry, outline_of
from mapper.store.shop import open_shop
from mapper.surface import region
from tests.viewer.server.serve import Servers
from tests.viewer.server.shops import make_shop
from tests.viewer.server.talk import ANN, JOB, RIGHT, action, entry, stroke, where

FINDINGS, PEOPLE = 30, 5
GOAL = 0.060  # seconds of the processor for an answer, beyond the shape's own


def drawn(number: int, person: int) -> list[tuple[float, float]]:
    """A stroke of twenty points, each time at another place."""
    return [(700.0 + 5 * k + 9 * number, 250.0 + 60 * person + 3 * number) for k in range(20)]


def processor(pid: int) -> float:
    """Seconds of the processor that a process has used (proc(5): fields 14 and 15)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def record(served: Servers, person: int, took: list[float], count: int = FINDINGS) -> None:
    with httpx.Client(headers=served.ours, timeout=60) as client:
        for number in range(count):
            message = action(entry(where=where(stroke(*drawn(number, person)))))
            begun = time.perf_counter()
            got = client.post(f"{served.address}/api/jobs/{JOB}/actions", json=message)
            took.append(time.perf_counter() - begun)
            assert got.status_code == 200, got.text


def shape_alone(shop: Path) -> float:
    """Seconds of the processor for the shape's part of one finding."""
    used = 0.0
    with open_shop(shop) as store:
        book = store.book(JOB)
        geometry: Any = book.geometry_of(RIGHT)
        for number in range(-1, FINDINGS):
            used = used if number else 0.0  # the first one makes the skin ready
            begun = time.process_time()
            holes = region.openings_of(geometry, "skin")
            painted = region.stroke(geometry.skin("skin"), drawn(number, 0), 12.0, holes)
            outline = outline_of(geometry, "skin", "outer", painted)
            when = datetime.now(UTC)
            new_entry(book, RIGHT, "finding", outline=outline, by=ANN, device_time=when)
            used += time.process_time() - begun
    return used / FINDINGS


def told(name: str, took: list[float]) -> str:
    p95 = sorted(took)[int(0.95 * len(took))]
    return f"{name}: median {statistics.median(took) * 1e3:.0f} ms, p95 {p95 * 1e3:.0f} ms"


@pytest.mark.bench
def test_an_answer_is_quick(tmp_path: Path) -> None:
    shop = make_shop(tmp_path / "shop", triangles=20_000)
    alone = shape_alone(shop)
    served = Servers(shop, XDG_CACHE_HOME=str(tmp_path / "cache"))
    try:
        served.start()
        record(served, 0, [], 2)  # the server has made the skin ready
        one: list[float] = []
        used = processor(served.pid)
        record(served, 0, one)
        used = (processor(served.pid) - used) / FINDINGS
        five: list[float] = []
        threads = [threading.Thread(target=record, args=(served, n, five)) for n in range(PEOPLE)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    finally:
        served.close()
    assert len(five) == PEOPLE * FINDINGS
    print(f"\nprocessor: {used * 1e3:.0f} ms an answer, {alone * 1e3:.0f} ms of it the shape")
    print(told("an answer to one person", one))
    print(told(f"an answer to one of {PEOPLE} at once", five))
    assert used - alone < GOAL
