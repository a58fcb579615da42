"""The process that renders: `python -m mapper.drawing.render JOBS_FOLDER`, or `--probe`.

Kept apart because VTK ends by a segmentation fault, not by an error, where it finds no EGL. It
reads meshes and textures from a folder, moves one camera from picture to picture, writes plain
arrays and says "done N" on standard output after each.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pyvista as pv
import vtk
from vtkmodules.util.numpy_support import vtk_to_numpy

BLANK = 3
OVERSAMPLE = 2


def _texture(path: Path) -> pv.Texture:
    texture = pv.Texture(np.load(path))
    texture.interpolate = True
    texture.mipmap = True
    texture.SetMaximumAnisotropicFiltering(8)
    texture.repeat = False
    return texture


class Stage:
    """One plotter; every mesh is put on it once and shown when a picture wants it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.plotter = pv.Plotter(off_screen=True, lighting="none")
        self.plotter.set_background("white")
        self.plotter.enable_parallel_projection()
        self.actors: dict[str, list[Any]] = {}
        self.textures: dict[str, pv.Texture] = {}
        self.light = pv.Light(light_type="scene light", intensity=1.0)
        self.plotter.add_light(self.light)

    def actors_of(self, name: str, layer: dict[str, Any]) -> list[Any]:
        """The actors of one skin's face; made on first use."""
        key = json.dumps([name, layer], sort_keys=True)
        if key in self.actors:
            return self.actors[key]
        data = np.load(self.folder / f"{name}.npz")
        triangles = data["triangles"]
        faces = np.concatenate([np.full((len(triangles), 1), 3), triangles], axis=1)
        mesh = pv.PolyData(data["points"], faces.ravel())
        mesh.point_data["Normals"] = data["normals"]
        mesh.point_data.active_normals_name = "Normals"
        look: dict[str, Any] = {
            "culling": layer["culling"],
            "ambient": 0.5,
            "diffuse": 0.55,
            "specular": 0.0,
            "smooth_shading": False,
            "reset_camera": False,
        }
        if layer["texture"]:
            if layer["texture"] not in self.textures:
                self.textures[layer["texture"]] = _texture(self.folder / layer["texture"])
            mesh.active_texture_coordinates = np.load(self.folder / layer["coordinates"])
            actor = self.plotter.add_mesh(
                mesh, texture=self.textures[layer["texture"]], name=key, **look
            )
        else:
            actor = self.plotter.add_mesh(mesh, color=layer["colour"], name=key, **look)
        actor.prop.interpolation = "phong"
        made = [actor]
        edges = data["edges"]
        if len(edges) and layer["edges"]:
            lines = np.concatenate([np.full((len(edges), 1), 2), edges], axis=1)
            wire = pv.PolyData(data["points"], lines=lines.ravel())
            made.append(
                self.plotter.add_mesh(
                    wire,
                    color="#222222",
                    line_width=1.5 * OVERSAMPLE,
                    lighting=False,
                    name=key + "edges",
                    reset_camera=False,
                )
            )
        self.actors[key] = made
        return made

    def pixels(self) -> np.ndarray:
        """(H, W, 3) of what was rendered last. (A screenshot would render it all once more.)"""
        grab = vtk.vtkWindowToImageFilter()
        grab.SetInput(self.plotter.render_window)
        grab.SetInputBufferTypeToRGB()
        grab.ReadFrontBufferOff()
        grab.ShouldRerenderOff()
        grab.Update()
        image = grab.GetOutput()
        wide, high, _ = image.GetDimensions()
        return vtk_to_numpy(image.GetPointData().GetScalars()).reshape(high, wide, 3)[::-1]

    def picture(self, job: dict[str, Any]) -> np.ndarray:
        """(H, W, 3) pixels of one job."""
        shown = [a for layer in job["layers"] for a in self.actors_of(layer["mesh"], layer)]
        for actors in self.actors.values():
            for actor in actors:
                actor.SetVisibility(any(actor is one for one in shown))
        width, height = job["size"]
        wanted = (width * OVERSAMPLE, height * OVERSAMPLE)
        if tuple(self.plotter.window_size) != wanted:
            self.plotter.window_size = wanted
        camera = self.plotter.camera
        camera.position, camera.focal_point, camera.up = job["position"], job["focus"], job["up"]
        camera.parallel_scale = job["half_height"]
        self.plotter.renderer.ResetCameraClippingRange()
        # Set by hand: a camera light stays where the first camera was.
        self.light.position, self.light.focal_point = job["light"], job["focus"]
        self.plotter.render_window.Render()
        image = self.pixels()
        total = np.full((height, width, 3), OVERSAMPLE**2 // 2, dtype=np.uint16)
        for i in range(OVERSAMPLE):
            for j in range(OVERSAMPLE):
                total += image[i::OVERSAMPLE, j::OVERSAMPLE]
        return (total // OVERSAMPLE**2).astype(np.uint8)


def probe() -> int:
    """0 where a small ball can be rendered, BLANK where only an empty picture comes."""
    plotter = pv.Plotter(off_screen=True, window_size=(64, 64))
    plotter.add_mesh(pv.Sphere(theta_resolution=8, phi_resolution=8), color="black")
    image = np.asarray(plotter.screenshot(return_img=True))
    plotter.close()
    return 0 if image.std() > 1 else BLANK


def main(arguments: list[str]) -> int:
    vtk.vtkLogger.SetStderrVerbosity(vtk.vtkLogger.VERBOSITY_OFF)
    vtk.vtkObject.GlobalWarningDisplayOff()
    if arguments == ["--probe"]:
        return probe()
    folder = Path(arguments[0])
    jobs = json.loads((folder / "jobs.json").read_text(encoding="utf-8"))
    stage = Stage(folder)
    try:
        for number, job in enumerate(jobs):
            image = stage.picture(job)
            if image.std() < 0.5:
                return BLANK
            np.save(folder / f"picture{number}.npy", image)
            sys.stdout.write(f"done {number}\n")
            sys.stdout.flush()
    finally:
        stage.plotter.close()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
