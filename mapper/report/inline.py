"""Pictures that travel inside the page: drawings as SVG elements, photos as data addresses."""

from __future__ import annotations

import base64
import re
import xml.etree.ElementTree as ET
from pathlib import Path

from mapper.errors import MapperError
from mapper.report.tags import Html

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
MEDIA = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".webp": "image/webp"}
DRAWN = frozenset({
    "svg", "g", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "text", "tspan",
    "defs", "clipPath", "title", "desc", "style", "use", "symbol", "image",
})  # fmt: skip


def data_address(path: Path) -> str:
    """The file as a `data:` address; MapperError for a type a browser would not show."""
    media = MEDIA.get(path.suffix.lower())
    if media is None:
        raise MapperError(
            f"{path.name} cannot be put into the page.", f"Allowed: {', '.join(MEDIA)}."
        )
    return f"data:{media};base64,{base64.b64encode(path.read_bytes()).decode('ascii')}"


def inline_svg(path: Path, prefix: str, alt: str) -> Html:
    """The drawing as an `<svg>` element of its own, named by `alt` for those who cannot see it.

    Ids get `prefix`, so that many drawings fit into one page. Only drawing elements are let
    through; scripts, event handlers and outside addresses are refused with a MapperError.
    """
    try:
        root = ET.fromstring(path.read_bytes())
    except ET.ParseError as error:
        raise MapperError(f"{path.name} is not a drawing: {error}.", "Allowed: SVG.") from error
    for node in root.iter():
        _check(node, path.name)
        _rename_ids(node, prefix)
    for child in list(root):
        if child.tag in (f"{{{SVG}}}title", f"{{{SVG}}}desc"):
            root.remove(child)
    for name in ("width", "height"):
        root.attrib.pop(name, None)
    root.set("role", "img")
    root.set("aria-label", alt)
    text = ET.tostring(root, encoding="unicode")
    return Html(re.sub(r"(</?)svg:|\s+xmlns:svg=\"[^\"]*\"|\sxmlns:ns\d+=\"[^\"]*\"", r"\1", text))


def _check(node: ET.Element, name: str) -> None:
    space, _, local = node.tag.rpartition("}")
    if space != "{" + SVG or local not in DRAWN:
        raise MapperError(f"{name} holds <{local}>.", "Only drawing elements go into the page.")
    for key, value in node.attrib.items():
        bare = key.rpartition("}")[2].lower()
        outside = bare == "href" and not value.startswith(("#", "data:image/"))
        if bare.startswith("on") or outside or "javascript:" in value.lower():
            raise MapperError(f"{name} holds {bare}={value[:40]!r}.", "Only drawing goes in.")


def _rename_ids(node: ET.Element, prefix: str) -> None:
    for key, value in list(node.attrib.items()):
        bare = key.rpartition("}")[2]
        if bare == "id":
            node.set(key, prefix + value)
        elif bare == "href" and value.startswith("#"):
            node.set(key, "#" + prefix + value[1:])
        elif "url(#" in value:
            node.set(key, value.replace("url(#", "url(#" + prefix))


ET.register_namespace("", SVG)
ET.register_namespace("xlink", XLINK)
