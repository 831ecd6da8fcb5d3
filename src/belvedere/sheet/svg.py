"""Small pieces of SVG: text, lines and paths as strings, in points, black on white.

Fonts are those that typst carries inside, with fallbacks for a browser; so a picture looks the
same on every machine once it is turned into a PDF or PNG.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

FONT = "'Libertinus Serif', 'Linux Libertine', Georgia, serif"
INK = "#000"
GREY = "#666"
PALE = "#999"
#: Nothing on paper is smaller.
SMALLEST_PT = 6.5

_HALO = (
    'stroke="#fff" stroke-width="2" stroke-opacity="0.85" stroke-linejoin="round" '
    'paint-order="stroke"'
)
#: What XML 1.0 has no place for (W3C, "Extensible Markup Language 1.0", production 2, Char).
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def plain(words: str) -> str:
    """Text without the signs that XML cannot carry."""
    return _NOT_XML.sub("", words)


def num(value: float) -> str:
    """A coordinate, short: two decimals at most."""
    short = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if short == "-0" else short


def picture(width_pt: float, height_pt: float, says: str, body: Iterable[str]) -> str:
    """A whole SVG document on white; `says` describes it to those who cannot see it."""
    width, height = num(width_pt), num(height_pt)
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}pt" height="{height}pt" '
            f'viewBox="0 0 {width} {height}" role="img" font-family={quoteattr(FONT)}>',
            f"<title>{escape(plain(says))}</title>",
            f'<rect width="{width}" height="{height}" fill="#fff"/>',
            *body,
            "</svg>\n",
        )
    )


def text(
    x: float,
    y: float,
    words: str,
    size: float = 8.0,
    *,
    anchor: str = "start",
    bold: bool = False,
    italic: bool = False,
    fill: str = INK,
    halo: bool = False,
    turned: bool = False,
) -> str:
    """One line of text; `halo` keeps it legible on lines, `turned` runs it upwards."""
    marks = [f'x="{num(x)}" y="{num(y)}" font-size="{num(max(size, SMALLEST_PT))}"']
    if anchor != "start":
        marks.append(f'text-anchor="{anchor}"')
    if bold:
        marks.append('font-weight="700"')
    if italic:
        marks.append('font-style="italic"')
    if turned:
        marks.append(f'transform="rotate(-90 {num(x)} {num(y)})"')
    if halo:
        marks.append(_HALO)
    marks.append(f'fill="{fill}"')
    return f"<text {' '.join(marks)}>{escape(plain(words))}</text>"


def line(
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    *,
    width: float = 0.5,
    ink: str = INK,
    dash: str = "",
) -> str:
    """A straight line."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{num(x1)}" y1="{num(y1)}" x2="{num(x2)}" y2="{num(y2)}" '
        f'stroke="{ink}" stroke-width="{num(width)}"{dashes}/>'
    )


def shape(d: str, **marks: str) -> str:
    """A path; underscores in the names of its attributes stand for hyphens."""
    rest = "".join(f" {name.replace('_', '-')}={quoteattr(value)}" for name, value in marks.items())
    return f'<path d="{d}"{rest}/>'


def stroke(d: str, *, width: float = 0.5, ink: str = INK, dash: str = "") -> str:
    """A path that is drawn and not filled."""
    marks = {"fill": "none", "stroke": ink, "stroke_width": num(width)}
    if dash:
        marks["stroke_dasharray"] = dash
    return shape(d, stroke_linejoin="round", **marks)


def polyline(points: Sequence[tuple[float, float]], *, closed: bool = False) -> str:
    """Path data through points."""
    if not points:
        return ""
    rest = " ".join(f"{num(x)} {num(y)}" for x, y in points[1:])
    return (
        f"M{num(points[0][0])} {num(points[0][1])}"
        + (f"L{rest}" if rest else "")
        + ("Z" if closed else "")
    )


def box(x: float, y: float, width: float, height: float) -> str:
    """Path data of an upright rectangle."""
    return f"M{num(x)} {num(y)}h{num(width)}v{num(height)}h{num(-width)}Z"


def arrow_head(x: float, y: float, dx: float, dy: float, size: float) -> str:
    """A filled triangle with its tip at (x, y), pointing along (dx, dy)."""
    length = (dx * dx + dy * dy) ** 0.5 or 1.0
    ux, uy = dx / length * size, dy / length * size
    corners = [
        (x, y),
        (x - ux - 0.4 * uy, y - uy + 0.4 * ux),
        (x - ux + 0.4 * uy, y - uy - 0.4 * ux),
    ]
    return shape(polyline(corners, closed=True), fill=INK)


def text_width(words: str, size: float) -> float:
    """About how wide a line of text is: for keeping things apart, not for setting type."""
    return 0.5 * size * len(words)
