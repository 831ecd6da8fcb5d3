"""The marks of faults: each state has a shape of its own, told apart without colour."""

from __future__ import annotations

from belvedere.sheet import svg

#: What is drawn in a box from -1 to 1: path data, and whether it is filled.
_SHAPES: dict[str, tuple[tuple[str, bool], ...]] = {
    # Struck out.
    "missing": (("M-0.62 -0.62L0.62 0.62M0.62 -0.62L-0.62 0.62", False),),
    # Torn.
    "corrupt": (("M-0.3 -0.75L0.25 -0.25L-0.25 0.15L0.3 0.75", False),),
    # Rings that run outwards.
    "soft": (
        ("M-0.18 0a0.18 0.18 0 1 0 0.36 0a0.18 0.18 0 1 0 -0.36 0", True),
        ("M-0.46 0a0.46 0.46 0 1 0 0.92 0a0.46 0.46 0 1 0 -0.92 0", False),
        ("M-0.76 0a0.76 0.76 0 1 0 1.52 0a0.76 0.76 0 1 0 -1.52 0", False),
    ),
    # To and fro.
    "shaken": (
        ("M-0.6 0H0.6M-0.3 -0.34L-0.66 0L-0.3 0.34M0.3 -0.34L0.66 0L0.3 0.34", False),
        ("M-0.5 -0.66H0.5M-0.5 0.66H0.5", False),
    ),
    # A disc, half dark.
    "exposure": (
        ("M0 -0.7a0.7 0.7 0 1 0 0 1.4z", True),
        ("M-0.7 0a0.7 0.7 0 1 0 1.4 0a0.7 0.7 0 1 0 -1.4 0", False),
    ),
    # A drop.
    "colour": (
        ("M0 -0.8C0.2 -0.35 0.56 -0.05 0.56 0.3A0.56 0.5 0 0 1 -0.56 0.3C-0.56 -0.05 -0.2 -0.35"
         " 0 -0.8Z", False),
        ("M0 0.8A0.56 0.5 0 0 1 -0.56 0.3L0.56 0.3A0.56 0.5 0 0 1 0 0.8Z", True),
    ),
    # A question.
    "unsure": (
        ("M-0.36 -0.34C-0.36 -0.86 0.4 -0.86 0.4 -0.34C0.4 0 0 0 0 0.32", False),
        ("M-0.12 0.66a0.12 0.12 0 1 0 0.24 0a0.12 0.12 0 1 0 -0.24 0", True),
    ),
}  # fmt: skip
#: A warning triangle, for what has no shape of its own.
_OTHER = (
    ("M0 -0.76L0.8 0.66H-0.8Z", False),
    ("M0 -0.3V0.2", False),
    ("M-0.07 0.44a0.07 0.07 0 1 0 0.14 0a0.07 0.07 0 1 0 -0.14 0", True),
)


def fault_mark(state: str, x: float, y: float, half: float) -> str:
    """The shape of a fault around (x, y), black on a white square of the given half side."""
    parts = [
        f'<g transform="translate({svg.num(x)} {svg.num(y)}) scale({svg.num(half)})">',
        '<rect x="-1" y="-1" width="2" height="2" fill="#fff" stroke="#000" stroke-width="0.16"/>',
    ]
    for d, filled in _SHAPES.get(state, _OTHER):
        if filled:
            parts.append(svg.shape(d, fill=svg.INK))
        else:
            marks = {"fill": "none", "stroke": svg.INK, "stroke_width": "0.24"}
            parts.append(svg.shape(d, stroke_linecap="round", stroke_linejoin="round", **marks))
    return "".join([*parts, "</g>"])
