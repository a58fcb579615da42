"""Take out of a picture file what tells where it was taken, and leave the picture untouched.

Sources: JPEG segments (ITU-T T.81 annex B), PNG chunks (ISO/IEC 15948, 5.3), WebP chunks (RIFF
container of RFC 9649), Exif tags (CIPA DC-008). Places hide in Exif (the GPS block, makers' notes),
XMP, IPTC, comments and in data after the picture's end. So nothing is searched for: what describes
the picture's colours, size and time is kept, all other description is dropped.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from PIL import Image

_EXIF_HEAD = b"Exif\x00\x00"
_EXIF, _GPS = 0x8769, 0x8825
# Tags of the two plain blocks that are kept: what was photographed with which camera, how and when.
_KEPT = {0x010F, 0x0110, 0x0112, 0x011A, 0x011B, 0x0128, 0x0132}
_KEPT_EXIF = {
    0x829A, 0x829D, 0x8822, 0x8827, 0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9204, 0x9206,
    0x9207, 0x9209, 0x920A, 0xA001, 0xA20E, 0xA20F, 0xA210, 0xA405, 0xA432, 0xA433, 0xA434,
}  # fmt: skip
# Chunks that make or size or colour the picture; the rest is description.
_PNG = {
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT",
    b"pHYs", b"bKGD", b"hIST", b"tIME", b"cICP", b"mDCV", b"cLLI",
}  # fmt: skip
_WEBP = {b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ICCP"}
_WEBP_EXIF, _WEBP_XMP = 0x08, 0x04


def without_location(data: bytes, media_type: str) -> tuple[bytes, list[str]]:
    """The file without what could tell a place, and notes in words of what was taken out.

    The same bytes and [] where there was nothing. Raises ValueError for a file that does not follow
    its format.
    """
    strip = {"image/jpeg": _jpeg, "image/png": _png, "image/webp": _webp}[media_type]
    kept, gone = strip(data)
    if not gone:
        return data, []
    told = ", ".join(sorted(set(gone)))
    return kept, [f"taken out, because it may tell the place: {told}; the pixels are untouched"]


def _exif(block: bytes) -> tuple[bytes, list[str]]:
    """An Exif block (after its head) with the kept tags alone, and what was in it besides."""
    tags = Image.Exif()
    tags.load(_EXIF_HEAD + block)
    inner = dict(tags.get_ifd(_EXIF))
    outer = {tag: tags[tag] for tag in tags if tag not in (_EXIF, _GPS)}
    gone = ["the position in the Exif data"] if _GPS in tags else []
    if not (outer.keys() <= _KEPT and inner.keys() <= _KEPT_EXIF):
        gone.append("further Exif data")
    if not gone:
        return block, []
    fresh = Image.Exif()
    for tag in sorted(_KEPT & outer.keys()):
        fresh[tag] = outer[tag]
    kept = {tag: inner[tag] for tag in sorted(_KEPT_EXIF & inner.keys())}
    if kept:
        fresh[_EXIF] = kept
    made = fresh.tobytes()
    return made.removeprefix(_EXIF_HEAD), gone


def _jpeg(data: bytes) -> tuple[bytes, list[str]]:
    if data[:2] != b"\xff\xd8":
        raise ValueError("no start of image")
    out, gone, at = [data[:2]], [], 2
    while True:
        while data[at : at + 2] == b"\xff\xff":  # fill bytes may stand before any marker
            at += 1
        if data[at] != 0xFF:
            raise ValueError("no marker where one must be")
        marker = data[at + 1]
        if marker == 0xD9:
            out.append(b"\xff\xd9")
            at += 2
            break
        length = int.from_bytes(data[at + 2 : at + 4])
        if length < 2 or at + 2 + length > len(data):
            raise ValueError("a segment is cut short")
        segment, body = data[at : at + 2 + length], data[at + 4 : at + 2 + length]
        at += 2 + length
        if marker == 0xDA:
            end = _end_of_scan(data, at)
            out.append(segment + data[at:end])
            at = end
            continue
        kept, told = _segment(marker, segment, body)
        out.append(kept)
        gone += told
    if at < len(data):
        gone.append("data after the end of the picture")
    return b"".join(out), gone


def _segment(marker: int, segment: bytes, body: bytes) -> tuple[bytes, list[str]]:
    if marker == 0xE1 and body.startswith(_EXIF_HEAD):
        block, gone = _exif(body[len(_EXIF_HEAD) :])
        if not gone:
            return segment, []
        content = _EXIF_HEAD + block
        return b"\xff\xe1" + (len(content) + 2).to_bytes(2) + content, gone
    # Kept among the application segments: JFIF, colour profile, the colour transform.
    if marker == 0xE0 or (marker == 0xE2 and body.startswith(b"ICC_PROFILE\x00")) or marker == 0xEE:
        return segment, []
    if marker == 0xFE:
        return b"", ["a comment"]
    if 0xE1 <= marker <= 0xEF:
        return b"", ["descriptions (XMP, IPTC or a maker's own)"]
    return segment, []


def _end_of_scan(data: bytes, at: int) -> int:
    """Where the next marker after a scan begins; restarts and stuffed zeros belong to it."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            raise ValueError("the picture has no end")
        after = data[at + 1]
        if after == 0xFF:
            at += 1
        elif after == 0x00 or 0xD0 <= after <= 0xD7:
            at += 2
        else:
            return at


def _chunks(data: bytes, at: int, big: bool) -> Iterator[tuple[bytes, bytes, int]]:
    """(name, content, where the next one begins) of PNG (big-endian, checked) or RIFF chunks."""
    while at + 8 <= len(data):
        first, second = data[at : at + 4], data[at + 4 : at + 8]
        name, size = (second, int.from_bytes(first)) if big else (first, _little(second))
        content = data[at + 8 : at + 8 + size]
        at += 8 + size + (4 if big else size % 2)
        if len(content) < size:
            raise ValueError("a chunk is cut short")
        yield name, content, at


def _little(four: bytes) -> int:
    return int.from_bytes(four, "little")


def _png(data: bytes) -> tuple[bytes, list[str]]:
    out, gone, end = [data[:8]], [], 8
    for name, body, after in _chunks(data, 8, big=True):
        content, end = body, after
        if name == b"eXIf":
            content, told = _exif(content)
            gone += told
        elif name not in _PNG:
            gone.append("texts and descriptions")
            continue
        out.append(len(content).to_bytes(4) + name + content)
        out.append(zlib.crc32(name + content).to_bytes(4))
        if name == b"IEND":
            break
    if end < len(data):
        gone.append("data after the end of the picture")
    return b"".join(out), gone


def _webp(data: bytes) -> tuple[bytes, list[str]]:
    if data[:4] != b"RIFF" or data[8:12] != b"WEBP":
        raise ValueError("no RIFF container")
    end = 8 + _little(data[4:8])
    gone = ["data after the end of the picture"] if end < len(data) else []
    kept: list[tuple[bytes, bytes]] = []
    for name, content, _ in _chunks(data[:end], 12, big=False):
        if name == b"EXIF":
            head = _EXIF_HEAD if content.startswith(_EXIF_HEAD) else b""
            block, told = _exif(content[len(head) :])
            gone += told
            content = head + block
        elif name not in _WEBP:
            gone.append("texts and descriptions")
            continue
        kept.append((name, content))
    names = {name for name, _ in kept}
    out = b""
    for name, content in kept:
        if name == b"VP8X":
            flags = content[0] & ~_WEBP_XMP & ~(0 if b"EXIF" in names else _WEBP_EXIF)
            content = bytes([flags]) + content[1:]
        pad = b"\x00" * (len(content) % 2)
        out += name + len(content).to_bytes(4, "little") + content + pad
    return b"RIFF" + (len(out) + 4).to_bytes(4, "little") + b"WEBP" + out, gone
