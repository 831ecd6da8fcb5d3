"""Colours of Saltmere on a late afternoon: sRGB-coded triples 0..1, and how light changes them."""

from __future__ import annotations

Rgb = tuple[float, float, float]

HAZE: Rgb = (0.80, 0.83, 0.84)
SUN: Rgb = (1.08, 1.0, 0.86)
SHADE: Rgb = (0.57, 0.61, 0.70)


def rgb(code: int) -> Rgb:
    """From 0xRRGGBB."""
    return ((code >> 16 & 255) / 255, (code >> 8 & 255) / 255, (code & 255) / 255)


def mix(a: Rgb, b: Rgb, share: float) -> Rgb:
    """From ``a`` (share 0) to ``b`` (share 1)."""
    return (
        a[0] + (b[0] - a[0]) * share,
        a[1] + (b[1] - a[1]) * share,
        a[2] + (b[2] - a[2]) * share,
    )


def lit(c: Rgb, strength: float = 1.0) -> Rgb:
    """In the low sun: warm, up to 1.0 bright."""
    return (
        min(c[0] * SUN[0] * strength, 0.97),
        min(c[1] * SUN[1] * strength, 0.96),
        min(c[2] * SUN[2] * strength, 0.93),
    )


def shaded(c: Rgb, depth: float = 1.0) -> Rgb:
    """Turned away from the sun: darker and cooler; ``depth`` 0 leaves it alone."""
    return mix(c, (c[0] * SHADE[0], c[1] * SHADE[1], c[2] * SHADE[2]), depth)


def darker(c: Rgb, factor: float) -> Rgb:
    """Scaled."""
    return (min(c[0] * factor, 1.0), min(c[1] * factor, 1.0), min(c[2] * factor, 1.0))


# Lime-washed walls, from the pale to the bold.
WALLS = tuple(
    rgb(c)
    for c in (
        0xEBDFC8, 0xE6D3B0, 0xDDBF91, 0xE3C9A8, 0xD9A982, 0xD8927A, 0xC9866B, 0xE8D9D0,
        0xCFC9B6, 0xB9C2BF, 0x9FB3BC, 0xD9CFA6, 0xE0B65F, 0xC77B5C, 0xAFB89A, 0xF0E6D6,
        0xD7B7A4, 0xC4B49A, 0xE9DDB9, 0xB46A52,
    )
)  # fmt: skip
ROOFS = tuple(
    rgb(c) for c in (0xB4633F, 0xA95A3A, 0xBF7048, 0x9C5236, 0xC27D55, 0xA3664A, 0x6F6E70, 0x7C7469)
)
SHUTTERS = tuple(
    rgb(c) for c in (0x3F6F6B, 0x4E7FA0, 0x6B8F71, 0x8B3A33, 0x2F4F66, 0xB98A4A, 0x7C8C9C, 0x54687A)
)
DOORS = tuple(rgb(c) for c in (0x2F5D62, 0x7A2E2A, 0x31506E, 0x5A4632, 0x8B6B3D, 0x3E5B3A))
CLOTHES = tuple(
    rgb(c)
    for c in (
        0x2F4A6B, 0xB5402F, 0xE6DFCF, 0xC79A3B, 0x4F6F57, 0x7A4F6D, 0x3A3A44, 0x8FA9BF,
        0xD98E73, 0x6B5A45, 0xD9C7A0, 0x1F6F78, 0x9C2F47, 0x5D7FA3,
    )
)  # fmt: skip
SKINS = tuple(rgb(c) for c in (0xE9BFA0, 0xD5A27F, 0xB07D5A, 0x875A3D, 0x5E3D2B))
HAIR = tuple(rgb(c) for c in (0x2A211C, 0x4B3525, 0x7B5A36, 0xB08A52, 0x8C8A86, 0xD9D5CC))
WOOD = rgb(0x8A6B4A)
DARK_WOOD = rgb(0x54402F)
IRON = rgb(0x33363B)
STONE = rgb(0xB3A791)
GRANITE = rgb(0x8E8A84)
GLASS = rgb(0x49586A)
WHITE = rgb(0xF1ECE2)
LINEN = rgb(0xEFE7D6)
ROPE = rgb(0xB59B6C)
BRASS = rgb(0xC9A24B)
FOLIAGE = tuple(rgb(c) for c in (0x5E7340, 0x4A6338, 0x6F7F46, 0x3F5A3C, 0x7C8450, 0x53704E))
