"""Nothing acknowledged is lost: not to a power cut, a full disk, a kill, or a second writer."""

from __future__ import annotations

import ctypes
import os
import re
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from mapper.job.entry import Entry
from mapper.store.engine import check_promises
from mapper.store.errors import DiskRefused, StoreError
from mapper.store.shop import Store, open_shop
from tests.store.makers import ANN, JOB, entry, new_shop, picture

ROOT = Path(__file__).resolve().parents[2]
WORKER = (sys.executable, "-m", "tests.store.worker")


def absent(what: str) -> None:
    """Skip for want of something of the machine's, unless nothing may be skipped."""
    if os.environ.get("MAPPER_NO_SKIP") == "1":
        pytest.fail(f"{what}; nothing may be skipped here")
    pytest.skip(what)


# -- the disk is waited for


def syncs_before_each_acknowledgement(folder: Path, level: str, count: int = 12) -> list[int]:
    """How often the kernel was asked to put bytes on the disk before each "stored", by strace."""
    log = folder.parent / "trace"
    tool = shutil.which("strace")
    if tool is None:
        absent("strace is not installed: it counts what reaches the disk")
    call = (tool, "-f", "-o", str(log), "-e", "trace=fdatasync,fsync,write", *WORKER)
    done = subprocess.run(
        (*call, str(folder), "w", str(count), level), cwd=ROOT, capture_output=True, text=True
    )
    if "ptrace" in done.stderr and done.returncode != 0:
        absent("strace may not trace here")
    assert done.returncode == 0, done.stderr
    counts, since = [], 0
    for line in log.read_text().splitlines():
        if re.search(r'write\(1, "ready', line):
            since = 0
        elif re.search(r'write\(1, "stored', line):
            counts.append(since)
            since = 0
        elif re.search(r"(fdatasync|fsync)\(\d+.*= 0", line):
            since += 1
    return counts


def test_every_commit_waits_for_the_disk_before_it_is_acknowledged(store: Store) -> None:
    counts = syncs_before_each_acknowledgement(store.folder, "FULL")
    assert len(counts) == 12
    assert min(counts) >= 1


def test_the_count_notices_a_commit_that_does_not_wait(store: Store) -> None:
    assert min(syncs_before_each_acknowledgement(store.folder, "OFF")) == 0


def test_every_pooled_connection_keeps_the_promises(store: Store) -> None:
    with store.engine.connect() as one, store.engine.connect() as two:
        for connection in (one, two):
            driver = connection.connection.driver_connection
            assert driver.execute("PRAGMA synchronous").fetchone() == (2,)
            assert driver.execute("PRAGMA foreign_keys").fetchone() == (1,)
            assert driver.execute("PRAGMA journal_mode").fetchone() == ("wal",)


@pytest.mark.parametrize("pragma", ["synchronous=OFF", "synchronous=NORMAL", "foreign_keys=OFF"])
def test_a_connection_that_lost_its_promises_is_not_used(store: Store, pragma: str) -> None:
    with store.engine.connect() as connection:
        connection.connection.driver_connection.execute(f"PRAGMA {pragma}")
    with pytest.raises(StoreError, match="safety settings"), store.act(ANN, "add") as action:
        action.add(entry("e"))
    driver = connect_bare(store)
    with pytest.raises(StoreError):
        check_promises(driver)
    driver.close()


def connect_bare(store: Store):  # type: ignore[no-untyped-def]
    """A connection as the library gives it: not waiting enough, without foreign keys."""

    return sqlite3.connect(store.folder / "shop.sqlite")


# -- several writers


def test_several_processes_add_to_one_shop_and_nothing_is_lost(store: Store) -> None:
    names, each = ("a", "b", "c", "d"), 15
    running = [
        subprocess.Popen((*WORKER, str(store.folder), name, str(each)), cwd=ROOT, stdout=-1)
        for name in names
    ]
    for process in running:
        process.communicate()
        assert process.returncode == 0
    there = {e.id for e in store.book(JOB).entries}
    assert there == {f"{name}-{n}" for name in names for n in range(each)}
    assert store.verify().sound


def test_threads_that_change_one_record_lose_no_change(store: Store) -> None:
    with store.act(ANN, "add") as action:
        action.add(entry("e", note="0"))

    def count_up(_: int) -> None:
        for _ in range(3):
            while True:
                found = store.get(Entry, "e")
                try:
                    with store.act(ANN, "one more") as action:
                        action.change(replace(found, note=str(int(found.note) + 1)))
                except StoreError:
                    continue
                break

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(count_up, range(4)))
    assert store.get(Entry, "e").note == "12"
    assert store.verify().sound


# -- killed


def test_a_killed_writer_loses_nothing_it_acknowledged(store: Store) -> None:
    stored: set[str] = set()
    for attempt in range(4):
        running = [
            subprocess.Popen(
                (*WORKER, str(store.folder), f"{name}{attempt}", "100000"), cwd=ROOT, stdout=-1
            )
            for name in ("a", "b")
        ]
        told = [b"", b""]
        for number, process in enumerate(running):
            assert process.stdout is not None
            assert process.stdout.readline() == b"ready\n"
            # Each has stored some before, whatever the machine's pace; where it is then is chance.
            for _ in range(1 + attempt):
                told[number] += process.stdout.readline()
        for process in running:
            process.send_signal(signal.SIGKILL)
        for process, before in zip(running, told):
            # Not by communicate(): that would leave out what readline() had read ahead.
            lines = (before + process.stdout.read()).decode().splitlines(keepends=True)
            process.wait()
            process.stdout.close()
            stored |= {line.split()[1] for line in lines if line.endswith("\n")}
    assert len(stored) >= 2 * (1 + 2 + 3 + 4)
    with open_shop(store.folder) as again:
        there = {e.id for e in again.book(JOB).entries}
        assert stored <= there
        # What was stored and not yet acknowledged may be sent again, and is not stored twice.
        assert len(there) <= len(stored) + 8
        assert again.verify().sound


# -- a full disk


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 3 MB that can really be full; only root may mount one."""
    where = tmp_path / "disk"
    where.mkdir()
    library = ctypes.CDLL(None, use_errno=True)
    if library.mount(b"tmpfs", str(where).encode(), b"tmpfs", 0, b"size=3m") != 0:
        absent("this user may not mount a small disk")
    yield where
    library.umount2(str(where).encode(), 2)


def fill(store: Store) -> list[str]:
    """Add entries until the disk refuses; ids of those acknowledged."""
    stored = []
    with pytest.raises(DiskRefused) as refused:
        for number in range(300):
            with store.act(ANN, "long note") as action:
                action.add(entry(f"e{number}", note="x" * 150_000))
            stored.append(f"e{number}")
    assert "disk" in str(refused.value).lower()
    assert "acknowledged before is safe" in str(refused.value)
    return stored


def test_a_full_disk_refuses_in_words_and_the_shop_still_opens(small_disk: Path) -> None:
    store = new_shop(small_disk / "shop")
    stored = fill(store)
    assert len(stored) > 3
    # While it is full: what was stored is read, by this and by a new program.
    for opened in (store, open_shop(small_disk / "shop")):
        assert {e.id for e in opened.book(JOB).entries} == set(stored)
        assert opened.verify().sound
        opened.close()
    with pytest.raises(DiskRefused), store.act(ANN, "picture") as action:
        action.add_photo(JOB, picture("PNG", (1500, 1500), compress_level=0))
    assert store.verify().sound


def test_when_there_is_room_again_work_goes_on(small_disk: Path) -> None:
    (small_disk / "something else").write_bytes(b"x" * 1_000_000)
    with new_shop(small_disk / "shop") as store:
        stored = fill(store)
        (small_disk / "something else").unlink()
        with store.act(ANN, "after") as action:
            action.add(entry("after"))
        assert {e.id for e in store.book(JOB).entries} == {*stored, "after"}
        assert store.verify().sound


def test_a_limit_on_file_size_refuses_in_words_too(store: Store) -> None:
    usual = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2_000_000, usual[1]))
    try:
        stored = fill(store)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, usual)
    assert {e.id for e in store.book(JOB).entries} == set(stored)
    with store.act(ANN, "after") as action:
        action.add(entry("after"))
    assert store.verify().sound
