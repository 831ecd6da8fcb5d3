"""What is marked on the grid: the way of the sweep, sun, tripod, focus, and the legend."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from belvedere.light import SunAt
from belvedere.sheet import svg
from belvedere.sheet.axes import labelled
from belvedere.sheet.outlines import FloatArray, thinned
from belvedere.sheet.plot import Plot, row_elevations, sweep_lines
from belvedere.sheet.words import clock, distance
from belvedere.shoot import Briefing, Cell, Plan

#: Up to so many lines of a sweep are all drawn; of more, the first two and the last.
_MOST_WAYS = 12
_OUTLINE_TOLERANCE_PT = 0.04
_NUMBER_PT = 7.0


def definitions(plot: Plot) -> Iterator[str]:
    """The edge of the view, and the hatchings."""
    view = svg.box(plot.x0, plot.y0, plot.width, plot.height)
    yield "<defs>"
    yield f'<clipPath id="grid-view">{svg.shape(view)}</clipPath>'
    yield _hatching("sun-hatch", 45, 3.2, 0.7)
    yield _hatching("flare-hatch", 45, 6.4, 0.4)
    yield _hatching("tripod-hatch", -45, 6.4, 0.4)
    yield "</defs>"


def _hatching(name: str, angle: int, apart: float, width: float) -> str:
    return (
        f'<pattern id="{name}" width="{apart}" height="{apart}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate({angle})">{svg.line(0, 0, 0, apart, width=2 * width)}</pattern>'
    )


def on_paper(plot: Plot, outline: FloatArray) -> list[tuple[float, float]]:
    """A row's outline as offsets from the cell's bearing, in points; elevations in place."""
    scaled = outline * (plot.across_pt, plot.down_pt)
    closed = thinned(np.vstack([scaled, scaled[:1]]), _OUTLINE_TOLERANCE_PT)[:-1]
    return [(float(x), float(plot.y0 + plot.top_deg * plot.down_pt - y)) for x, y in closed]


def cell_path(plot: Plot, outline: Sequence[tuple[float, float]], cell: Cell) -> str:
    """Path of a frame; of a frame across the seam of a full turn, both of its ends."""
    widest = max(x for x, _ in outline)
    narrowest = min(x for x, _ in outline)
    parts = []
    for turn in (-360.0, 0.0, 360.0):
        x = plot.x(cell.bearing_deg + turn)
        inside = x + widest > plot.x0 + 0.01 and x + narrowest < plot.x0 + plot.width - 0.01
        if inside:
            parts.append(svg.polyline([(x + dx, y) for dx, y in outline], closed=True))
    return "".join(parts)


def hatched_cells(briefing: Briefing, plot: Plot, outlines: dict[int, FloatArray]) -> Iterator[str]:
    """Hatching on the frames that see the sun or the tripod."""
    plan = briefing.plan
    for row in briefing.tripod_rows:
        top, bottom = plot.y(outlines[row][:, 1].max()), plot.y(outlines[row][:, 1].min())
        band = svg.box(plot.x0, top, plot.width, bottom - top)
        yield svg.shape(band, fill="url(#tripod-hatch)")
    for seen in briefing.light.sun_cells if briefing.light else ():
        cell = plan.cells[seen.cell]
        hatch = "sun-hatch" if seen.in_frame else "flare-hatch"
        paper = on_paper(plot, outlines[cell.row])
        yield svg.shape(cell_path(plot, paper, cell), fill=f"url(#{hatch})")


def sweep_way(plan: Plan, plot: Plot) -> Iterator[str]:
    """Arrows along the lines of the sweep; the first way back is dotted.

    Where there is room each frame's number stands on the line, between the first frame's dot and
    the last one's ring.
    """
    numbered = _numbered(plan, plot)
    gap = svg.text_width(str(len(plan.cells)), _NUMBER_PT) / 2.0 + 2.5 if numbered else 0.0
    lines = sweep_lines(plan)
    drawn = lines if len(lines) <= _MOST_WAYS else [lines[0], lines[1], lines[-1]]
    for cells in drawn:
        yield from _way(plot, cells, gap)
    if len(drawn) > 1:
        (x1, y1), (x2, y2) = _centre(plot, lines[0][-1]), _centre(plot, lines[1][0])
        yield svg.line(x1, y1, x2, y2, width=0.5, dash="1.2 2.2")
    for number, cell in enumerate(plan.cells if numbered else (), start=1):
        if 1 < number < len(plan.cells):
            x, y = _centre(plot, cell)
            wide = 0.47 * _NUMBER_PT * len(str(number)) + 2.0
            yield svg.shape(svg.box(x - wide / 2.0, y - 3.2, wide, 6.4), fill="#fff")
            yield svg.text(x, y + 2.4, str(number), _NUMBER_PT, anchor="middle")
    if len(plan.cells) > 1:
        yield _ring(*_centre(plot, plan.cells[-1]))
    x, y = _centre(plot, plan.cells[0])
    yield f'<circle cx="{svg.num(x)}" cy="{svg.num(y)}" r="3.2"/>'


def _ring(x: float, y: float) -> str:
    return (
        f'<circle cx="{svg.num(x)}" cy="{svg.num(y)}" r="3" fill="#fff" stroke="#000" '
        'stroke-width="1.2"/>'
    )


def _centre(plot: Plot, cell: Cell) -> tuple[float, float]:
    return plot.x(cell.bearing_deg), plot.y(cell.elevation_deg)


def _way(plot: Plot, cells: Sequence[Cell], gap: float) -> Iterator[str]:
    """A line of the sweep; its arrow ends before the number of its last frame."""
    if len(cells) < 2:
        return
    (x1, y1), (x2, y2) = _centre(plot, cells[0]), _centre(plot, cells[-1])
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    stop = max(gap, 4.2) if abs(ux) > abs(uy) else max(min(gap, 5.5), 4.2)
    x2, y2 = x2 - stop * ux, y2 - stop * uy
    yield svg.line(x1, y1, x2 - 2.0 * ux, y2 - 2.0 * uy, width=0.9)
    yield svg.arrow_head(x2, y2, ux, uy, 6.0)


def _numbered(plan: Plan, plot: Plot) -> bool:
    """Whether the number of each frame has room."""
    wide = min((s for s in plan.column_steps_deg if s > 0.0), default=360.0) * plot.across_pt
    high = (plan.row_step_deg or plan.vertical_fov_deg) * plot.down_pt
    return wide >= svg.text_width(str(len(plan.cells)), _NUMBER_PT) + 9.0 and high >= 12.0


def sun_path(briefing: Briefing, plot: Plot) -> Iterator[str]:
    """Where the sun goes while the head sweeps, with times, and the word at cells it is in."""
    light, place = briefing.light, briefing.plan.shoot.conditions.place
    if light is None or place is None or place.zero_bearing_deg is None:
        return
    zero = place.zero_bearing_deg
    inside = [at for at in light.sun if _in_view(plot, at, zero)]
    points = [(plot.x(plot.near(at.azimuth_deg - zero)), plot.y(at.elevation_deg)) for at in inside]
    yield from _sun_words(briefing, plot, points)
    yield svg.stroke(svg.polyline(points), width=1.6, dash="2.5 1.5")
    discs = list(zip(inside, points, strict=True))
    for at, (x, y) in discs[:1] + discs[-1:]:
        yield from _sun_disc(x, y)
        right = x + 8.0 + svg.text_width("17:40", 8.0) < plot.x0 + plot.width
        words = f"sun {clock(at.at)}"
        wide = svg.text_width(words, 8.0) + 5.0
        corner = x + 6.0 if right else x - 6.0 - wide
        yield svg.shape(svg.box(corner, y - 15.0, wide, 11.0), fill="#fff")
        yield svg.text(corner + wide / 2.0, y - 6.7, words, 8.0, anchor="middle", bold=True)
        if len(inside) == 1 or _close(points[0], points[-1]):
            return


def _close(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return abs(a[0] - b[0]) < 45.0 and abs(a[1] - b[1]) < 11.0


def _in_view(plot: Plot, at: SunAt, zero_deg: float) -> bool:
    bearing = plot.near(at.azimuth_deg - zero_deg)
    return (
        plot.left_deg <= bearing <= plot.right_deg
        and plot.bottom_deg <= at.elevation_deg <= plot.top_deg
        and at.elevation_deg > -1.0
    )


def _sun_disc(x: float, y: float) -> Iterator[str]:
    yield f'<circle cx="{svg.num(x)}" cy="{svg.num(y)}" r="4.2" fill="#fff" stroke="#000"/>'
    yield f'<circle cx="{svg.num(x)}" cy="{svg.num(y)}" r="1.3"/>'


def _sun_words(
    briefing: Briefing, plot: Plot, discs: Sequence[tuple[float, float]]
) -> Iterator[str]:
    plan = briefing.plan
    step = min((s for s in plan.column_steps_deg if s > 0.0), default=360.0) * plot.across_pt
    high = (plan.row_step_deg or plan.vertical_fov_deg) * plot.down_pt
    if briefing.light is None or step < 22.0 or high < 18.0:
        return
    for seen in briefing.light.sun_cells:
        x, y = _centre(plot, plan.cells[seen.cell])
        if any(abs(x - sx) < 20.0 and -16.0 < y + 6.0 - sy < 10.0 for sx, sy in discs):
            continue
        words = "sun" if seen.in_frame else "flare"
        yield svg.text(
            x, y + 9.0, words, 7.5, anchor="middle", bold=seen.in_frame, italic=True, halo=True
        )


def row_notes(briefing: Briefing, plot: Plot) -> Iterator[str]:
    """Number of each row, the frames in it where the sweep goes by rows, and the tripod."""
    plan = briefing.plan
    x = plot.x0 + plot.width + 6.0
    yield svg.text(x, plot.y0 - 6.0, "row", 7.0, italic=True)
    by_rows = plan.shoot.sweep.order == "rows"
    if by_rows:
        yield svg.text(x + 18.0, plot.y0 - 6.0, "frames", 7.0, italic=True)
    ends = _row_ends(plan)
    elevations = row_elevations(plan)
    for row in labelled(plan.rows, plan.row_step_deg * plot.down_pt, 10.0):
        y = plot.y(elevations[row]) + 2.7
        yield svg.text(x, y, str(row), 8.0, bold=True)
        if by_rows:
            words = (
                "{}–{}".format(*ends[row]) if ends[row][0] != ends[row][1] else str(ends[row][0])
            )
        else:
            words = ""
        yield svg.text(x + 18.0, y, words, 8.0) if words else ""
        if row in briefing.tripod_rows:
            below = plan.row_step_deg * plot.down_pt >= 18.0
            yield svg.text(
                x + 18.0 if below else x + 22.0 + svg.text_width(words, 8.0),
                y + (8.0 if below and words else 0.0),
                "tripod",
                7.0,
                bold=True,
                italic=True,
            )


def _row_ends(plan: Plan) -> dict[int, tuple[int, int]]:
    """First and last frame of each row, as numbers in the sweep from 1."""
    ends: dict[int, tuple[int, int]] = {}
    for number, cell in enumerate(plan.cells, start=1):
        ends[cell.row] = (ends.get(cell.row, (number, number))[0], number)
    return ends


def focus_brackets(briefing: Briefing, plot: Plot, x: float) -> Iterator[str]:
    """Which rows share a focus distance, as brackets beside the grid."""
    zones = briefing.focus.zones
    if not zones:
        return
    plan = briefing.plan
    elevations = row_elevations(plan)
    half = (plan.row_step_deg or plan.vertical_fov_deg) / 2.0
    yield svg.text(x, plot.y0 - 6.0, "focus", 7.0, italic=True)
    free = plot.y0
    for zone in zones:
        top = max(plot.y0, plot.y(elevations[zone.first_row] + half) + 1.2)
        bottom = min(plot.y0 + plot.height, plot.y(elevations[zone.last_row] - half) - 1.2)
        d = f"M{svg.num(x)} {svg.num(top)}h4V{svg.num(bottom)}h-4"
        yield svg.stroke(d, width=1.1)
        middle = (top + bottom) / 2.0
        tall = bottom - top >= 22.0
        baseline = middle if tall else middle + 3.0
        if baseline - 8.0 < free:
            continue
        yield svg.text(x + 8.0, baseline, distance(zone.focus_m), 9.0, bold=True)
        free = baseline
        if tall:
            span = f"{distance(zone.near_m)} – {distance(zone.far_m)}"
            yield svg.text(x + 8.0, middle + 9.0, span, 7.0)
            free = middle + 9.0


def legend(
    briefing: Briefing, plot: Plot, left: float, y: float, width_pt: float
) -> tuple[list[str], float]:
    """The key below the picture, and where it ends."""
    items = list(_legend_items(briefing, plot))
    parts: list[str] = []
    x = left
    for mark, words in items:
        wide = 24.0 + svg.text_width(words, 7.5) + 6.0
        if x + wide > width_pt and x > left:
            x, y = left, y + 11.0
        parts.append(f'<g transform="translate({svg.num(x)} {svg.num(y)})">{mark}</g>')
        parts.append(svg.text(x + 21.0, y + 2.5, words, 7.5))
        x += wide
    return parts, y + 7.0


def _legend_items(briefing: Briefing, plot: Plot) -> Iterator[tuple[str, str]]:
    swatch = svg.box(0, -4, 17, 8)
    yield svg.line(0, 0, 17, 0, width=1.5), "wanted picture"
    if plot.bottom_deg < 0.0 < plot.top_deg:
        yield svg.line(0, 0, 17, 0, width=0.8, dash="7 2.5 1.2 2.5"), "horizon"
    yield '<circle cx="9" cy="0" r="3.2"/>', "first frame"
    if len(briefing.plan.cells) > 1:
        yield _ring(9, 0), "last frame"
    seen = briefing.light.sun_cells if briefing.light else ()
    if any(cell.in_frame for cell in seen):
        yield (
            svg.shape(swatch, fill="url(#sun-hatch)", stroke="#000", stroke_width="0.5"),
            ("sun in the frame"),
        )
    if any(not cell.in_frame for cell in seen):
        yield (
            svg.shape(swatch, fill="url(#flare-hatch)", stroke="#000", stroke_width="0.5"),
            ("sun close by: flare"),
        )
    if briefing.tripod_rows:
        yield (
            svg.shape(swatch, fill="url(#tripod-hatch)", stroke="#000", stroke_width="0.5"),
            ("row that sees the tripod"),
        )
    if plot.taller > 1.05:
        yield svg.line(9, -4, 9, 4, width=0.7), f"drawn {plot.taller:.1f} times too tall"
