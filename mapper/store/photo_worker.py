"""The process that looks at one picture: limits on itself first, then the decoder.

stdin: one line of JSON (pixels, keep_location, seconds, memory), then the file's bytes. stdout: one
line of JSON (media_type, width, height, taken, notes; or refused), then the bytes to store where
they differ from what came.
"""

from __future__ import annotations

import io
import json
import sys
import warnings
from datetime import datetime
from typing import Any

from PIL import Image, UnidentifiedImageError

from mapper.bounded import bound
from mapper.store.photo_strip import without_location

_TYPES = {"JPEG": "image/jpeg", "MPO": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
_EXIF, _TAKEN, _OFFSET = 0x8769, 0x9003, 0x9011


def look(data: bytes, pixels: int, keep_location: bool) -> tuple[dict[str, Any], bytes]:
    """What is to be told about a file, and the bytes to store (b"" for those that came)."""
    Image.MAX_IMAGE_PIXELS = None  # our own limit, below, is checked before anything is decoded
    warnings.simplefilter("ignore")
    formats = ("JPEG", "PNG", "WEBP")
    try:
        with Image.open(io.BytesIO(data), formats=formats) as image:
            size, kind = image.size, image.format or ""
            if size[0] * size[1] > pixels:
                return {
                    "refused": f"it has {size[0]} x {size[1]} = {size[0] * size[1]:,} pixels",
                    "allowed": f"The shop takes up to {pixels:,} (setting photo_pixel_limit).",
                }, b""
            if kind != "MPO" and getattr(image, "n_frames", 1) > 1:
                return {"refused": "it is a moving picture", "allowed": "Allowed: still ones."}, b""
            image.load()
            taken = _taken(image)
        with Image.open(io.BytesIO(data), formats=formats) as again:
            again.verify()
    except MemoryError:
        return {"refused": "it needs more memory than a picture may"}, b""
    except UnidentifiedImageError:
        return {"refused": "it is no sound picture (no kind that can be read)"}, b""
    # Decoders meet a damaged file with nearly every kind of error there is; all of them mean that.
    except Exception as error:
        return {
            "refused": f"it is no sound picture ({str(error)[:120] or type(error).__name__})"
        }, b""
    told: dict[str, Any] = {
        "media_type": _TYPES[kind],
        "width": size[0],
        "height": size[1],
        "taken": taken,
        "notes": [],
    }
    if keep_location:
        return told, b""
    try:
        stored, notes = without_location(data, _TYPES[kind])
    except (ValueError, IndexError) as error:
        return {"refused": f"its parts do not follow its format ({error})"}, b""
    told["notes"] = notes
    return told, b"" if stored == data else stored


def _taken(image: Image.Image) -> str | None:
    """When the camera says the picture was taken, where it says so with its offset from UTC."""
    tags = image.getexif().get_ifd(_EXIF)
    told, offset = tags.get(_TAKEN), tags.get(_OFFSET)
    try:
        moment = datetime.strptime(f"{told} {offset}".strip("\x00 "), "%Y:%m:%d %H:%M:%S %z")
    except ValueError:
        return None
    return moment.isoformat()


def main() -> None:
    """Read the order and the file from stdin, answer on stdout."""
    head, _, data = sys.stdin.buffer.read().partition(b"\n")
    order = json.loads(head)
    bound(order["memory"], order["seconds"])
    told, stored = look(data, order["pixels"], order["keep_location"])
    sys.stdout.buffer.write(json.dumps(told).encode() + b"\n" + stored)


if __name__ == "__main__":
    main()
