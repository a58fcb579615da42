"""What is handed to the rendering process in a folder: meshes and textures, each of them once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from mapper.drawing.camera import is_flat
from mapper.drawing.mesh import Mesh, ScenePart, mesh_of
from mapper.drawing.shot import PictureJob
from mapper.surface.geometry import Geometry

BARE = "#c9cdd2"
INSIDE = "#a9adb3"


class Folder:
    """Writes meshes, textures and jobs for the rendering process, each of them once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.meshes: dict[tuple[int, str], tuple[str, Mesh]] = {}
        self.textures: dict[tuple[int, str, str], tuple[str, str]] = {}
        self.count = 0
        self.kept: list[Any] = []  # so that no id is used twice while this folder lives

    def mesh(self, geometry: Geometry, name: str) -> tuple[str, Mesh]:
        key = (id(geometry), name)
        if key not in self.meshes:
            mesh = mesh_of(geometry, geometry.skin(name))
            file = f"mesh{len(self.meshes)}"
            np.savez(
                self.folder / file,
                points=mesh.points,
                normals=mesh.normals,
                triangles=mesh.triangles,
                edges=mesh.edges,
            )
            self.kept.append(geometry)
            self.meshes[key] = file, mesh
        return self.meshes[key]

    def texture(self, part: ScenePart, name: str, face: str) -> tuple[str, str]:
        """File names of pixels and coordinates; two empty words where the face has no texture."""
        key = (id(part), name, face)
        if key not in self.textures:
            texture = part.textures.get((name, face))
            if texture is None:
                return "", ""
            file = f"texture{self.count}.npy"
            self.count += 1
            np.save(self.folder / file, np.ascontiguousarray(texture.pixels[..., :3]))
            np.save(self.folder / f"at_{file}", texture.coordinates(part.geometry.skin(name).flat))
            self.kept.append(part)
            self.textures[key] = file, f"at_{file}"
        return self.textures[key]

    def forget(self, part: ScenePart) -> None:
        """Takes the textures of a part away, which no further picture shows."""
        for key in [key for key in self.textures if key[0] == id(part)]:
            for file in self.textures.pop(key):
                (self.folder / file).unlink(missing_ok=True)

    def layers(self, job: PictureJob) -> list[dict[str, Any]]:
        """What is put on the stage: the outer face where it faces the camera, the inner one where
        it does."""
        out = []
        for part in job.parts:
            for skin in part.geometry.skins:
                file, _ = self.mesh(part.geometry, skin.name)
                for number, culling in ((0, "back"), (1, "front")):
                    if job.face == "inner" and number == 0 and not is_flat(part.geometry, skin):
                        continue
                    face = skin.face_names[min(number, len(skin.face_names) - 1)]
                    pixels, at = self.texture(part, skin.name, face)
                    out.append(
                        {
                            "mesh": file,
                            "culling": culling,
                            "texture": pixels,
                            "coordinates": at,
                            "colour": BARE if number == 0 else INSIDE,
                            "edges": number == 1,
                        }
                    )
        return out
