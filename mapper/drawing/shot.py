"""What one 3D picture is to show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from mapper.drawing.camera import Camera
from mapper.drawing.mesh import ScenePart
from mapper.errors import MapperError
from mapper.units import Units

FACES = ("outer", "inner")


@dataclass(frozen=True, eq=False)
class PictureJob:
    """One picture: its parts, where it goes (PNG), its size in pixels and its camera.

    camera: a name of `camera.CAMERAS` or a Camera. face: "outer" shows the faces seen from outside;
    "inner" cuts the near skin away and shows the faces seen from inside. title: words at the top.
    """

    parts: Sequence[ScenePart]
    out: Path
    size: tuple[int, int] = (1600, 1000)
    camera: Camera | str = "auto"
    face: str = "outer"
    title: str = ""
    units: Units | str = "metric"

    def __post_init__(self) -> None:
        if not self.parts:
            raise MapperError("A picture without parts.", "At least one part is shown.")
        wide, high = self.size
        if not (200 <= wide <= 8000 and 150 <= high <= 8000):
            raise MapperError(
                f"A picture of {wide} x {high} pixels.", "200 x 150 to 8000 x 8000 can be made."
            )
        if self.face not in FACES:
            raise MapperError(f"Face {self.face!r} of a picture.", f"It is {' or '.join(FACES)}.")
