"""3D pictures of parts with their maps on them, rendered by a process of their own."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from mapper.drawing.camera import FILLED, Camera, camera_for
from mapper.drawing.flatmap import draw_map
from mapper.drawing.handed import Folder
from mapper.drawing.mesh import (
    TEXTURE_SIDE,
    ScenePart,
    Texture,
    Textures,
    texture_of,
)
from mapper.drawing.overlay import BOTTOM, TOP, draw_over
from mapper.drawing.shot import PictureJob
from mapper.drawing.show import Show
from mapper.drawing.view import sides_of
from mapper.errors import MapperError
from mapper.job.entry import Entry
from mapper.surface.geometry import Geometry
from mapper.surface.skin import Skin
from mapper.units import Units

Array = NDArray[np.float64]

# What the rendering process ends with where its pictures are empty (render.BLANK, not imported:
# that would load VTK here).
BLANK = 3
# Room of a part in a picture, mm on paper, that the writing on it is sized for.
PICTURE = (160.0, 70.0)
QUALITY = 86  # of a JPEG: a picture is looked at, not measured
# A first picture waits for the libraries to load; a slow machine gets this much for each, seconds.
START_LIMIT, PICTURE_LIMIT = 120.0, 60.0


class NoPictures(MapperError):
    """3D pictures cannot be made here; everything else can."""


def dress(
    geometry: Geometry,
    entries: Iterable[Entry] = (),
    *,
    show: Show | None = None,
    units: Units | str = "metric",
    numbers: Mapping[str, str] | None = None,
    faces: Iterable[int] = (0, 1),
    side: int = TEXTURE_SIDE,
    scale: float | None = None,
    ground: bool = True,
) -> ScenePart:
    """A part with the map of each face (0: seen from outside, 1: the other) as its texture.

    scale: flat mm per mm on paper the maps are made for; more makes their writing larger on the
    part. By default it is read well where the whole part fills a picture. side: pixels. ground: as
    of draw_map; False for a bare shape without a record.
    """
    entries = tuple(entries)
    faces = tuple(faces)

    def made(skin: Skin, face: str) -> Texture:
        drawing = draw_map(
            geometry, skin.name, face, entries,
            show=show, units=units, numbers=numbers, scale=scale or _fitting(geometry, skin),
            ground=ground,
        )  # fmt: skip
        return texture_of(drawing, side)

    return ScenePart(
        geometry,
        Textures(
            {
                (skin.name, face): partial(made, skin, face)
                for skin in geometry.skins
                for number, face in enumerate(skin.face_names)
                if number in faces
            }
        ),
    )


def _fitting(geometry: Geometry, skin: Skin) -> float:
    """The scale at which one side of a sheet fills a picture laid out on PICTURE mm of paper."""
    boxes = np.array([side.bounds for side in sides_of(geometry, skin)])
    wide, tall = (boxes[:, 2:] - boxes[:, :2]).max(axis=0)
    return float(max(wide / PICTURE[0], tall / PICTURE[1]))


def _command(*arguments: str) -> tuple[list[str], dict[str, str]]:
    home = str(Path(__file__).resolve().parents[2])
    environment = {key: value for key, value in os.environ.items() if key != "DISPLAY"}
    environment["PYTHONPATH"] = os.pathsep.join(
        part for part in (home, environment.get("PYTHONPATH", "")) if part
    )
    environment["PYVISTA_OFF_SCREEN"] = "true"
    return [sys.executable, "-m", "mapper.drawing.render", *arguments], environment


def _no_pictures(what: str) -> NoPictures:
    return NoPictures(
        f"3D pictures cannot be made: {what}.",
        "They need EGL with a software renderer, or a graphics card.",
        "On Debian install libegl1, libegl-mesa0 and libgl1-mesa-dri; maps need none of it.",
    )


@cache
def can_render() -> bool:
    """Whether 3D pictures can be made here: tried once, by a process that may die of it."""
    command, environment = _command("--probe")
    try:
        ended = subprocess.run(
            command, env=environment, capture_output=True, timeout=START_LIMIT, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return ended.returncode == 0


@dataclass(frozen=True)
class _Frame:
    """A camera set up for a picture. k: pixels per mm."""

    camera: Camera
    middle: Array
    k: float
    size: tuple[int, int]


def _frame(job: PictureJob, points: Array) -> _Frame:
    """Set the camera so that all points (or what it looks at) fill the picture above its foot."""
    camera = job.camera
    if isinstance(camera, str):
        number = 0 if job.face == "outer" else 1
        camera = camera_for([part.geometry for part in job.parts], camera, number)
    right, up, _ = camera.axes()
    wide, high = job.size
    top = TOP if job.title else 0.04
    room = np.array([FILLED * wide, (1 - top - BOTTOM) * high])
    screen = np.stack([points @ right, points @ up], axis=1)
    low, high_corner = screen.min(axis=0), screen.max(axis=0)
    if camera.look_at is not None and camera.across is not None:
        k = room[0] / camera.across
        aim = np.asarray(camera.look_at, dtype=float)
    else:
        k = float((room / np.maximum(high_corner - low, 1e-6)).min())
        centre = (low + high_corner) / 2 - [points.mean(0) @ right, points.mean(0) @ up]
        aim = points.mean(axis=0) + centre[0] * right + centre[1] * up
    # The foot of the picture is kept for arrows: what is looked at sits in the room above it.
    aim = aim - up * (BOTTOM - top) / 2 * high / k
    return _Frame(camera, aim, float(k), job.size)


def _entry(frame: _Frame, layers: list[dict[str, Any]], points: Array) -> dict[str, Any]:
    right, up, back = frame.camera.axes()
    far = 2 * float(np.linalg.norm(np.ptp(points, axis=0))) + 100.0
    return {
        "layers": layers,
        "size": list(frame.size),
        "position": (frame.middle + far * back).tolist(),
        "focus": frame.middle.tolist(),
        "up": up.tolist(),
        "light": (frame.middle + far * (back + 0.45 * up - 0.35 * right)).tolist(),
        "half_height": frame.size[1] / 2 / frame.k,
    }


class _Renderer:
    """The rendering process. It is fed picture by picture, so that it draws one while the next is
    being made ready; leaving it never leaves it behind."""

    def __init__(self, folder: Path) -> None:
        command, environment = _command(str(folder))
        with (folder / "errors.txt").open("wb") as errors:
            self.process = subprocess.Popen(
                command, env=environment, text=True, bufsize=1,
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=errors,
            )  # fmt: skip
        self.lines: queue.Queue[str | None] = queue.Queue()
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()
        self.sent = self.done = 0
        self.moved = time.monotonic() + START_LIMIT  # when it last had to begin something
        self.ended = False

    def __enter__(self) -> _Renderer:
        return self

    def __exit__(self, *_: object) -> None:
        self._close()
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        self.reader.join()
        if self.process.stdout is not None:
            self.process.stdout.close()

    def _read(self) -> None:
        for line in self.process.stdout or ():
            self.lines.put(line)
        self.lines.put(None)

    def _close(self) -> None:
        """Tells the process that nothing more comes."""
        with contextlib.suppress(OSError):  # it may have died: its code says how
            if self.process.stdin is not None:
                self.process.stdin.close()

    def send(self, entry: dict[str, Any]) -> None:
        """One more picture to render."""
        with contextlib.suppress(OSError, ValueError):
            if self.process.stdin is not None:
                self.process.stdin.write(json.dumps(entry) + "\n")
        self.sent += 1
        self.moved = max(self.moved, time.monotonic())

    def ready(self, wait: bool = False) -> Iterator[int]:
        """The numbers of pictures that are done; wait: of all that were sent. NoPictures where the
        process takes too long."""
        while not self.ended and self.done < self.sent:
            limit = self.moved + PICTURE_LIMIT - time.monotonic()
            try:
                line = self.lines.get(block=wait, timeout=max(0.1, limit) if wait else None)
            except queue.Empty:
                if wait:
                    raise _no_pictures("the rendering process took too long") from None
                return
            if line is None:
                self.ended = True
            elif line.startswith("done "):
                self.done += 1
                self.moved = time.monotonic()
                yield int(line.split()[1])

    def finish(self) -> None:
        """Waits for the end; NoPictures where the process ended otherwise than it should."""
        self._close()
        try:
            code = self.process.wait(timeout=PICTURE_LIMIT)
        except subprocess.TimeoutExpired:
            raise _no_pictures("the rendering process took too long") from None
        if code != 0 or self.done != self.sent:
            how = {0: "stopped early", BLANK: "gave blank pictures"}.get(
                code, f"ended with code {code}"
            )
            raise _no_pictures(f"the rendering process {how}")


def pictures(
    jobs: Sequence[PictureJob], *, on_done: Callable[[int, Path], None] | None = None
) -> tuple[Path, ...]:
    """Render all jobs in one process and write each as PNG, or as JPEG where its name says so; the
    paths in the order of the jobs.

    on_done(number, path) after each. No jobs: no process, an empty tuple. NoPictures where this
    machine cannot render or takes too long; an interrupted call leaves no process behind.
    """
    if not jobs:
        return ()
    frames: list[_Frame] = []
    last = {id(part): number for number, job in enumerate(jobs) for part in job.parts}

    def write(number: int) -> None:
        file = store.folder / f"picture{number}.npy"
        image = np.load(file)
        file.unlink()
        job, frame = jobs[number], frames[number]
        image = draw_over(image, job, frame.camera, frame.k)
        job.out.parent.mkdir(parents=True, exist_ok=True)
        if job.out.suffix.lower() in (".jpg", ".jpeg"):
            Image.fromarray(image).save(job.out, "JPEG", quality=QUALITY, optimize=True)
        else:
            Image.fromarray(image).save(job.out, optimize=False, compress_level=6)
        for part in job.parts:
            if last[id(part)] == number:
                store.forget(part)
        if on_done is not None:
            on_done(number, job.out)

    with (
        tempfile.TemporaryDirectory(prefix="pictures-") as name,
        _Renderer(Path(name)) as renderer,
    ):
        store = Folder(Path(name))
        for job in jobs:
            if renderer.ended:
                break
            points = np.concatenate(
                [
                    store.mesh(part.geometry, skin.name)[1].points
                    for part in job.parts
                    for skin in part.geometry.skins
                ]
            )
            frames.append(_frame(job, points))
            renderer.send(_entry(frames[-1], store.layers(job), points))
            for number in renderer.ready():
                write(number)
        for number in renderer.ready(wait=True):
            write(number)
        renderer.finish()
    return tuple(job.out for job in jobs)


def picture(
    parts: Sequence[ScenePart],
    out: Path,
    *,
    size: tuple[int, int] = (1600, 1000),
    camera: Camera | str = "auto",
    face: str = "outer",
    title: str = "",
    units: Units | str = "metric",
) -> Path:
    """One picture of some parts, as a PNG; see PictureJob. NoPictures where it cannot be made."""
    return pictures([PictureJob(parts, out, size, camera, face, title, units)])[0]
