"""A picture as pixels, drawn by typst with the fonts it carries: the same on every machine."""

from __future__ import annotations

from belvedere.foundation import PlanError
from belvedere.sheet.typesetting import typeset

_WIDEST_PX = 20_000
_PAGE = """\
#set page(width: float(sys.inputs.width) * 1pt, height: auto, margin: 0pt, fill: white)
#image("picture.svg", width: 100%)
"""


def picture_png(svg: str, width_px: int) -> bytes:
    """An SVG picture as PNG, `width_px` wide.

    Raises
    ------
    PlanError
        Where the width is not between 16 and 20,000 pixels.
    """
    if not 16 <= width_px <= _WIDEST_PX:
        raise PlanError(
            f"A picture {width_px:,} px wide cannot be drawn.",
            f"Ask for a width between 16 and {_WIDEST_PX:,} px.",
        )
    sources = {"main": _PAGE.encode(), "picture.svg": svg.encode()}
    return typeset(sources, "png", ppi=72.0, sys_inputs={"width": str(width_px)})[0]
