"""Pictures that stand in for photographs: drawn from noise, and saying so in their captions."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

WIDE, HIGH = 720, 480
MM_PER_PIXEL = 0.1


def picture(seed: int, pits: int, stain: float, crack: bool = False) -> bytes:
    """A JPEG of bare sheet with a scale: `pits` dark spots, `stain` (0 to 1) of grey bloom, and a
    crack where there is one."""
    draw = np.random.default_rng(seed)
    # Scratches of a pad run along the sheet: noise smeared far more one way than the other.
    grey = 168 + 40 * _smeared(draw.normal(size=(HIGH, WIDE)), (0.6, 24))
    bloom = _smeared(draw.normal(size=(HIGH, WIDE)), (40, 40))
    bloom = np.clip((bloom - np.quantile(bloom, 0.6)) / bloom.std(), 0, 2)
    grey -= 45 * stain * bloom + 6 * _smeared(draw.normal(size=(HIGH, WIDE)), (3, 3)) * stain
    for _ in range(pits):
        x, y = draw.normal(WIDE / 2, 120), draw.normal(HIGH / 2, 90)
        size = draw.uniform(4, 16)
        # Beyond seven times its size a pit is below 1e-19 of a shade.
        left, top = (max(0, int(c - 7 * size)) for c in (x, y))
        right, bottom = min(WIDE, int(x + 7 * size)), min(HIGH, int(y + 7 * size))
        window = slice(top, max(top, bottom)), slice(left, max(left, right))
        rows, columns = np.mgrid[window]
        far = np.hypot((columns - x) / size, (rows - y) / (size * draw.uniform(0.6, 1.0)))
        grey[window] -= 110 * np.exp(-(far**2))
    if crack:
        grey[_crack(draw)] -= 95
    tint = np.stack([grey * 1.0, grey * 1.0, grey * 1.015], axis=-1)
    image = Image.fromarray(np.clip(tint, 0, 255).astype(np.uint8))
    _scale(ImageDraw.Draw(image))
    kept = io.BytesIO()
    image.save(kept, "JPEG", quality=82)
    return kept.getvalue()


def _smeared(noise: np.ndarray, by: tuple[float, float]) -> np.ndarray:
    """Noise blurred by so many pixels (down, across) of a bell curve. A wide one is as good as
    three averages one after the other, which cost the same at any width."""
    for axis, sigma in enumerate(by):
        if sigma < 3:
            noise = gaussian_filter1d(noise, sigma, axis)
            continue
        for _ in range(3):
            noise = uniform_filter1d(noise, round(np.sqrt(4 * sigma**2 + 1)), axis)
    return noise


def _crack(draw: np.random.Generator) -> np.ndarray:
    """(HIGH, WIDE) True on a thin line that wanders across the middle."""
    image = Image.new("1", (WIDE, HIGH))
    x = np.linspace(0.2 * WIDE, 0.2 * WIDE + draw.uniform(160, 320), 60)
    y = 0.5 * HIGH + np.cumsum(draw.normal(0.4, 1.6, 60))
    ImageDraw.Draw(image).line(list(zip(x, y, strict=True)), fill=1, width=2)
    return np.asarray(image, bool)


def _scale(pen: ImageDraw.ImageDraw) -> None:
    """A card with 20 mm in it, as laid beside a finding."""
    left, top, long = 40, HIGH - 90, round(20 / MM_PER_PIXEL)
    pen.rectangle((left - 16, top - 18, left + long + 16, top + 50), fill=(245, 245, 240))
    for i in range(4):
        shade = (20, 20, 20) if i % 2 == 0 else (245, 245, 240)
        pen.rectangle(
            (left + i * long // 4, top, left + (i + 1) * long // 4, top + 14),
            fill=shade, outline=(20, 20, 20),
        )  # fmt: skip
    pen.text((left, top + 22), "20 mm", fill=(20, 20, 20))


# By the key of the entry: seed, pits, stain, crack.
PICTURES: dict[str, tuple[int, int, float, bool]] = {
    "deep pit": (31, 7, 0.35, False),
    "exhaust blister": (32, 14, 0.9, False),
    "leak path": (33, 3, 1.0, False),
    "patch edge": (34, 2, 0.5, False),
    "tip dent": (35, 0, 0.15, False),
    "old patch": (36, 0, 0.3, False),
    "spinner crack": (37, 0, 0.1, True),
    "side patch": (38, 0, 0.2, False),
    "rib flange": (39, 5, 0.8, False),
    "nose rib crack": (40, 0, 0.05, True),
    "cowl rough": (41, 38, 0.7, False),
    "belly deep": (42, 11, 0.9, False),
    "acid edge": (43, 4, 1.0, False),
    "deep pit decided": (44, 0, 0.1, False),
}
