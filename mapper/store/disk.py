"""Files that survive a power cut once the function that wrote them has returned."""

from __future__ import annotations

import os
from pathlib import Path


def write_synced(path: Path, data: bytes) -> None:
    """Write a new file and wait until its bytes are on the disk; OSError as the system says it."""
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def sync_file(path: Path) -> None:
    """Wait until the bytes of a file that is there are on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Wait until the names in a folder are on the disk; nothing where folders cannot be opened."""
    if os.name == "nt":
        return
    sync_file(folder)


def sync_tree(folder: Path) -> None:
    """Sync every file and folder below, then the folder itself."""
    for path in sorted(folder.rglob("*"), reverse=True):
        sync_file(path)
    sync_folder(folder)
