"""Folders and files that are there whole, or not at all."""

from __future__ import annotations

import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from mapper.store.disk import sync_file, sync_folder, sync_tree
from mapper.store.errors import plain_words


@contextmanager
def whole_or_nothing(target: Path) -> Iterator[Path]:
    """A folder beside `target` to fill; it becomes `target` once on the disk, or nothing."""
    part = target.absolute().with_name(f"{target.name}.part-{uuid.uuid4().hex[:8]}")
    with plain_words(target):
        part.mkdir(parents=True)
        try:
            yield part
            sync_tree(part)
            part.rename(target)  # onto nothing or an empty folder: anything else is an error
            sync_folder(target.absolute().parent)
        except BaseException:
            shutil.rmtree(part, ignore_errors=True)
            raise


@contextmanager
def whole_file_or_nothing(target: Path) -> Iterator[Path]:
    """A file beside `target` to write; it becomes `target` once on the disk, or nothing."""
    part = target.absolute().with_name(f"{target.name}.part-{uuid.uuid4().hex[:8]}")
    with plain_words(target):
        try:
            yield part
            sync_file(part)
            part.rename(target)
            sync_folder(target.absolute().parent)
        finally:
            part.unlink(missing_ok=True)
