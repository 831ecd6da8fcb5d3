"""The built-in scene at five zooms, from the whole view to one small sign.

    python tools/contact_sheet.py        writes docs/pictures/rehearsal-zooms.jpg

Each picture marks what the next one shows, and says its scale and the focal length that frames it
on a sensor 36 mm wide.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from belvedere.rehearse import srgb_of_linear
from belvedere.rehearse.harbour import HarbourScene

OUT = Path(__file__).resolve().parent.parent / "docs" / "pictures" / "rehearsal-zooms.jpg"
SENSOR_WIDTH_MM = 36.0
WIDTH_PX, HEIGHT_PX, GAP_PX, LABEL_PX = 960, 320, 8, 24
#: Middle bearing and elevation, width in degrees.
ZOOMS = (
    (0.0, -1.0, 92.0),
    (3.0, -3.5, 30.0),
    (7.6, -6.3, 10.0),
    (8.9, -7.75, 3.0),
    (8.34, -8.09, 0.9),
)
SEED = 7


def main() -> None:
    """Draw the sheet."""
    scene = HarbourScene(SEED)
    font = ImageFont.load_default(15)
    each = HEIGHT_PX + LABEL_PX + GAP_PX
    sheet = Image.new("RGB", (WIDTH_PX, each * len(ZOOMS) - GAP_PX), "white")
    draw = ImageDraw.Draw(sheet)
    for index, (bearing, elevation, wide) in enumerate(ZOOMS):
        top = index * each
        scale = WIDTH_PX / wide
        light = scene.patch(
            bearing - wide / 2.0,
            elevation + HEIGHT_PX / scale / 2.0,
            scale,
            WIDTH_PX,
            HEIGHT_PX,
        )
        sheet.paste(Image.fromarray(srgb_of_linear(light)), (0, top))
        if index + 1 < len(ZOOMS):
            draw.rectangle(_marked(ZOOMS[index], ZOOMS[index + 1], top), outline="white", width=2)
        draw.text((2, top + HEIGHT_PX + 3), _says(scale, wide), fill="black", font=font)
    OUT.parent.mkdir(parents=True, exist_ok=True)
    sheet.save(OUT, quality=84, optimize=True)
    print(f"{OUT.name}: {sheet.width} × {sheet.height} px, {OUT.stat().st_size // 1000} kB")


def _marked(
    here: tuple[float, float, float], there: tuple[float, float, float], top: int
) -> tuple[float, float, float, float]:
    """Where the next view lies in this one, in pixels of the sheet."""
    scale = WIDTH_PX / here[2]
    x = WIDTH_PX / 2.0 + (there[0] - here[0]) * scale
    y = top + HEIGHT_PX / 2.0 - (there[1] - here[1]) * scale
    half = WIDTH_PX * there[2] / here[2] / 2.0
    flat = half * HEIGHT_PX / WIDTH_PX
    return x - half, y - flat, x + half, y + flat


def _says(scale: float, wide: float) -> str:
    focal = SENSOR_WIDTH_MM / 2.0 / np.tan(np.radians(wide) / 2.0)
    return (
        f"{scale:,.0f} px per degree; {wide:g}° wide, as a lens of {_round(focal):,.0f} mm frames"
    )


def _round(value: float) -> float:
    """Two figures are enough."""
    digits = 1 - int(np.floor(np.log10(value)))
    return float(round(value, digits))


if __name__ == "__main__":
    main()
