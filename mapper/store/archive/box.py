"""An archive from outside, looked at before a byte of it is believed.

A folder or a zip file gives its files by name; names, counts, sizes, ratios and digests are checked
against the manifest, and bytes are counted while they are unpacked, whatever the zip file says.
"""

from __future__ import annotations

import json
import stat
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from mapper.store.archive import layout
from mapper.store.archive.layout import Limits
from mapper.store.canonical import digest
from mapper.store.errors import ArchiveRefused, plain_words

BLOCK = 1 << 20
SMALL = 1 << 20  # below a megabyte a high ratio hurts nobody


class Box(Protocol):
    """Files by name, wherever they lie; sizes are what they say of themselves."""

    def sizes(self) -> Mapping[str, int]:
        """Name -> bytes as told."""

    def read(self, name: str, most: int) -> bytes:
        """The bytes of a file, ArchiveRefused where there are more than `most`."""


@dataclass(frozen=True)
class Opened:
    """An archive whose manifest holds: read files by name, each compared with its digest."""

    path: Path
    manifest: Mapping[str, Any]
    limits: Limits
    _box: Box

    def names(self) -> tuple[str, ...]:
        """Every file but the manifest, sorted."""
        return tuple(sorted(self.manifest["files"]))

    def read(self, name: str) -> bytes:
        """The bytes of a file; ArchiveRefused where they are not those that the manifest tells."""
        told = self.manifest["files"].get(name)
        if told is None:
            raise refused(self.path, f"it has no {name}")
        most = self.limits.text if name.endswith((".json", ".jsonl")) else self.limits.one
        data = self._box.read(name, min(most, told["bytes"]))
        if len(data) != told["bytes"] or digest(data) != told["sha256"]:
            raise refused(self.path, f"{name} is not as it was written")
        return data


@contextmanager
def open_box(source: Path | str, limits: Limits | None = None) -> Iterator[Opened]:
    """An archive, folder or zip file, with its manifest read and its names and sizes checked.

    Raises ArchiveRefused, with what is wrong, for anything but a whole archive of a format that
    this program reads.
    """
    source = Path(source)
    limits = limits or Limits()
    if not source.exists():
        raise ArchiveRefused(f"There is no {source}.", "An archive is a folder or a zip file.")
    with plain_words(source):
        if source.is_dir():
            yield _opened(source, _Folder(source, limits), limits)
            return
        try:
            packed = zipfile.ZipFile(source)
        except (zipfile.BadZipFile, ValueError, RuntimeError) as error:
            raise ArchiveRefused(
                f"{source} is no zip file, or a damaged one ({error}).",
                "An archive is a folder or a zip file that `mapper archive write` made.",
            ) from error
        with packed:
            yield _opened(source, _Zip(source, packed, limits), limits)


def refused(source: Path, why: str) -> ArchiveRefused:
    """The refusal of an archive, with what is wrong."""
    return ArchiveRefused(
        f"The archive {source} cannot be trusted: {why}.",
        "Nothing of it was taken in.",
        "Ask for another copy from whoever made it.",
    )


def _opened(source: Path, box: Box, limits: Limits) -> Opened:
    sizes = box.sizes()
    if layout.MANIFEST not in sizes:
        raise refused(source, f"it has no {layout.MANIFEST}")
    try:
        manifest = json.loads(box.read(layout.MANIFEST, limits.text))
        if manifest["format"] != layout.FORMAT:
            raise refused(source, f"its format is {str(manifest['format'])[:60]!r}")
        number = manifest["number"]
        if isinstance(number, bool) or not isinstance(number, int) or number < 1:
            raise refused(source, f"its format number is {str(number)[:20]!r}")
        if number > layout.NUMBER:
            raise ArchiveRefused(
                f"{source} was written by a newer program (format {number}).",
                f"This one reads formats up to {layout.NUMBER}.",
                "Use the newer program.",
            )
        told = {name: (f["bytes"], f["sha256"]) for name, f in manifest["files"].items()}
        whole = all(
            isinstance(size, int) and not isinstance(size, bool) and size >= 0
            for size, _ in told.values()
        )
        texts = [manifest["head"], manifest["job"]["id"], manifest["job"]["name"]]
        if not whole or not all(isinstance(t, str) for t in texts):
            raise TypeError("a value of another type")
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise refused(source, f"its {layout.MANIFEST} cannot be read ({error})") from error
    if bad := sorted(n for n in told if not layout.NAME.fullmatch(n) or n == layout.MANIFEST):
        raise refused(source, f"it names {bad[0][:80]!r}, which no archive has")
    if missing := sorted(set(told) - set(sizes)):
        raise refused(source, f"it has no {missing[0]}")
    if extra := sorted(set(sizes) - set(told) - {layout.MANIFEST}):
        raise refused(source, f"it holds {extra[0][:80]!r}, which its manifest does not name")
    if wrong := sorted(n for n, (size, _) in told.items() if sizes[n] != size):
        raise refused(source, f"{wrong[0]} has {sizes[wrong[0]]} bytes, not {told[wrong[0]][0]}")
    for name in (layout.JOB, layout.HISTORY):
        if name not in told:
            raise refused(source, f"it has no {name}")
    return Opened(source, manifest, limits, box)


def _check_sizes(source: Path, sizes: Mapping[str, int], limits: Limits) -> None:
    for name, size in sizes.items():
        if not layout.NAME.fullmatch(name):
            raise refused(source, f"it holds {name[:80]!r}, a name that no archive has")
        if size > limits.one:
            raise refused(source, f"{name} has {size:,} bytes, and may have {limits.one:,}")
    if sum(sizes.values()) > limits.all:
        raise refused(
            source, f"its files have {sum(sizes.values()):,} bytes, and may have {limits.all:,}"
        )


class _Folder:
    def __init__(self, source: Path, limits: Limits) -> None:
        self._source = source
        self._sizes: dict[str, int] = {}
        for path in source.rglob("*"):
            name = path.relative_to(source).as_posix()
            mode = path.lstat().st_mode
            if stat.S_ISDIR(mode):
                continue
            if not stat.S_ISREG(mode):
                raise refused(source, f"{name[:80]!r} is a link or a device, not a file")
            if path.name.startswith("."):
                continue  # what file managers leave behind
            self._sizes[name] = path.lstat().st_size
            if len(self._sizes) > limits.files:
                raise refused(source, f"it holds more than {limits.files:,} files")
        _check_sizes(source, self._sizes, limits)

    def sizes(self) -> Mapping[str, int]:
        return self._sizes

    def read(self, name: str, most: int) -> bytes:
        with (self._source / name).open("rb") as file:
            data = file.read(most + 1)
        if len(data) > most:
            raise refused(self._source, f"{name} has more than {most:,} bytes")
        return data


class _Zip:
    def __init__(self, source: Path, packed: zipfile.ZipFile, limits: Limits) -> None:
        self._source, self._packed = source, packed
        entries = packed.infolist()
        if len(entries) > limits.files:
            raise refused(source, f"it holds {len(entries):,} files, and may hold {limits.files:,}")
        self._sizes: dict[str, int] = {}
        for entry in entries:
            name = entry.filename
            if entry.is_dir():
                continue
            if name in self._sizes:
                raise refused(source, f"it holds {name[:80]!r} twice")
            kind = stat.S_IFMT(entry.external_attr >> 16)
            if kind not in (0, stat.S_IFREG):
                raise refused(source, f"{name[:80]!r} is a link or a device, not a file")
            if entry.flag_bits & 1:
                raise refused(source, f"{name[:80]!r} is under a password")
            if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                raise refused(source, f"{name[:80]!r} is packed in a way that no archive uses")
            ratio = entry.file_size / max(1, entry.compress_size)
            if entry.file_size > SMALL and ratio > limits.ratio:
                raise refused(
                    source,
                    f"{name[:80]!r} grows {ratio:,.0f} times when unpacked, and may grow "
                    f"{limits.ratio:,.0f} times",
                )
            self._sizes[name] = entry.file_size
        _check_sizes(source, self._sizes, limits)

    def sizes(self) -> Mapping[str, int]:
        return self._sizes

    def read(self, name: str, most: int) -> bytes:
        pieces, count = [], 0
        try:
            with self._packed.open(name) as file:
                # Counted as it comes: what the zip file says of its sizes may be a lie.
                while piece := file.read(BLOCK):
                    count += len(piece)
                    if count > most:
                        raise refused(self._source, f"{name} has more than {most:,} bytes")
                    pieces.append(piece)
        except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError) as error:
            raise refused(self._source, f"{name} cannot be unpacked ({error})") from error
        return b"".join(pieces)
