"""The grid as the camera will see the view: bearings along the bottom, elevations at the side."""

from __future__ import annotations

from collections.abc import Iterator

from belvedere.sheet import grid_marks, svg
from belvedere.sheet.axes import compass, degree_ticks, labelled, signed_deg
from belvedere.sheet.outlines import FloatArray
from belvedere.sheet.plot import Plot, lay_plot, row_elevations, row_outlines
from belvedere.shoot import Briefing, Plan
from belvedere.sphere import covered_elevations_deg

#: More frames than this are drawn as rows.
MOST_OUTLINES = 4000
_MOST_BANDS = 400
_LEFT, _TOP = 46.0, 26.0
_ROWS_GUTTER, _COLUMNS_GUTTER, _FOCUS_GUTTER = 74.0, 46.0, 62.0


def grid_picture(briefing: Briefing, width_pt: float = 520.0, tallest_pt: float = 300.0) -> str:
    """The plan's cells and what matters about them, as an SVG document.

    Each frame has its true outline; where frames overlap the grey is darker. Above 4000 frames
    the rows are drawn instead. Meaning never hangs on colour: there is none.

    Parameters
    ----------
    briefing
        The planner's answer.
    width_pt
        Width of the picture in points; text is set in true points.
    tallest_pt
        The drawn view is at most this high; scales and legend come on top.
    """
    plan = briefing.plan
    outlines = row_outlines(plan)
    rows = _ROWS_GUTTER if plan.shoot.sweep.order == "rows" else _COLUMNS_GUTTER
    right = rows + (_FOCUS_GUTTER if briefing.focus.zones else 0.0)
    plot = lay_plot(plan, outlines, _LEFT, _TOP, width_pt - _LEFT - right, tallest_pt)
    body = [
        *grid_marks.definitions(plot),
        '<g clip-path="url(#grid-view)">',
        *_frames(plan, plot, outlines),
        *grid_marks.hatched_cells(briefing, plot, outlines),
        *_horizon(plot),
        "</g>",
        *_wanted(plan, plot),
        *grid_marks.sweep_way(plan, plot),
        *grid_marks.sun_path(briefing, plot),
        *_bearings(briefing, plot),
        *_elevations(plot),
        *_columns(plan, plot),
        *grid_marks.row_notes(briefing, plot),
        *grid_marks.focus_brackets(briefing, plot, plot.x0 + plot.width + rows),
    ]
    below = plot.y0 + plot.height + (38.0 if _zero_bearing(briefing) is not None else 26.0)
    legend, bottom = grid_marks.legend(briefing, plot, _LEFT, below, width_pt)
    count = len(plan.cells)
    says = f"Grid of {count} frames in {plan.rows} rows: {plan.shoot.title}".rstrip(": ")
    return svg.picture(width_pt, bottom, says, [*body, *legend])


def _zero_bearing(briefing: Briefing) -> float | None:
    place = briefing.plan.shoot.conditions.place
    return None if place is None else place.zero_bearing_deg


def _frames(plan: Plan, plot: Plot, outlines: dict[int, FloatArray]) -> Iterator[str]:
    if len(plan.cells) > MOST_OUTLINES:
        yield from _bands(plan, plot)
        return
    edge = 0.5 if len(plan.cells) < 500 else 0.25
    yield f'<g fill="#000" fill-opacity="0.05" stroke="{svg.GREY}" stroke-width="{edge}">'
    on_paper = {row: grid_marks.on_paper(plot, points) for row, points in outlines.items()}
    for cell in plan.cells:
        d = grid_marks.cell_path(plot, on_paper[cell.row], cell)
        yield svg.shape(d, data_cell=f"{cell.row},{cell.column}")
    yield "</g>"


def _bands(plan: Plan, plot: Plot) -> Iterator[str]:
    """Rows in place of frames: what each surely covers, from its first frame to its last."""
    elevations = row_elevations(plan)
    ends: dict[int, tuple[float, float]] = {}
    for cell in plan.cells:
        low, high = ends.get(cell.row, (cell.bearing_deg, cell.bearing_deg))
        ends[cell.row] = (min(low, cell.bearing_deg), max(high, cell.bearing_deg))
    half = plan.horizontal_fov_deg / 2.0
    every = 1 + (plan.rows - 1) // _MOST_BANDS
    yield f'<g fill="#000" fill-opacity="0.05" stroke="{svg.GREY}" stroke-width="0.25">'
    for row in range(1, plan.rows + 1, every):
        low, high = covered_elevations_deg(plan.vertical_fov_deg, elevations[row], 0.0)
        left, right = ends[row][0] - half, ends[row][1] + half
        band = svg.box(
            plot.x(left),
            plot.y(high),
            (right - left) * plot.across_pt,
            (high - low) * plot.down_pt,
        )
        yield svg.shape(band, data_row=str(row))
    yield "</g>"


def _horizon(plot: Plot) -> Iterator[str]:
    if not plot.bottom_deg < 0.0 < plot.top_deg:
        return
    y = plot.y(0.0)
    yield svg.line(plot.x0, y, plot.x0 + plot.width, y, width=0.8, dash="7 2.5 1.2 2.5")


def _wanted(plan: Plan, plot: Plot) -> Iterator[str]:
    wish = plan.shoot.grid
    top, bottom = plot.y(wish.top_deg), plot.y(wish.bottom_deg)
    if wish.full_turn or wish.left_deg is None or wish.right_deg is None:
        for y in (top, bottom):
            yield svg.line(plot.x0, y, plot.x0 + plot.width, y, width=1.5)
        return
    left, right = plot.x(wish.left_deg), plot.x(wish.right_deg)
    yield svg.stroke(svg.box(left, top, right - left, bottom - top), width=1.5)


def _bearings(briefing: Briefing, plot: Plot) -> Iterator[str]:
    """The scale along the bottom; true bearings under it, and north, where they are known."""
    zero = _zero_bearing(briefing)
    y = plot.y0 + plot.height
    yield svg.line(plot.x0, y, plot.x0 + plot.width, y, width=0.7)
    yield svg.text(plot.x0 - 17.0, y + 11.0, "bearing", 7.0, anchor="end", italic=True)
    most = max(3, int(plot.width / 36.0))
    for bearing in degree_ticks(plot.left_deg, plot.right_deg, most):
        x = plot.x(bearing)
        yield svg.line(x, y, x, y + 3.0, width=0.7)
        yield svg.text(x, y + 11.0, signed_deg(bearing), 8.0, anchor="middle")
        if zero is not None:
            azimuth = round((bearing + zero) % 360.0, 1) % 360.0
            words = f"{azimuth:g}° {compass(azimuth)}"
            yield svg.text(x, y + 21.5, words, 7.0, anchor="middle", fill="#333")
    if zero is None:
        return
    yield svg.text(plot.x0 - 17.0, y + 21.5, "true", 7.0, anchor="end", italic=True)
    north = plot.near(-zero)
    if plot.left_deg <= north <= plot.right_deg:
        x = plot.x(north)
        yield svg.line(x, plot.y0, x, y, width=0.5, dash="1 2")
        yield svg.arrow_head(x, plot.y0 - 24.0, 0.0, -1.0, 8.0)
        yield svg.text(x + 5.0, plot.y0 - 17.0, "north", 7.5, bold=True)


def _elevations(plot: Plot) -> Iterator[str]:
    yield svg.line(plot.x0, plot.y0, plot.x0, plot.y0 + plot.height, width=0.7)
    most = max(2, int(plot.height / 16.0))
    for elevation in degree_ticks(plot.bottom_deg, plot.top_deg, most):
        y = plot.y(elevation)
        yield svg.line(plot.x0 - 3.0, y, plot.x0, y, width=0.7)
        yield svg.text(plot.x0 - 5.0, y + 2.6, signed_deg(elevation), 8.0, anchor="end")


def _columns(plan: Plan, plot: Plot) -> Iterator[str]:
    """Column numbers on top, where the columns of all rows stand under each other."""
    y = plot.y0 - 6.0
    yield svg.text(plot.x0 - 17.0, y, "column", 7.0, anchor="end", italic=True)
    if len(set(plan.columns_per_row)) > 1:
        few, many = min(plan.columns_per_row), max(plan.columns_per_row)
        yield svg.text(plot.x0, y, f"from {few} to {many} in a row, see the right side", 7.0)
        return
    row = [cell for cell in plan.cells if cell.row == 1]
    places = {cell.column: plot.x(cell.bearing_deg) for cell in row}
    apart = plan.column_steps_deg[0] * plot.across_pt
    ends = _column_ends(plan) if plan.shoot.sweep.order == "columns" and apart >= 36.0 else {}
    if ends:
        yield svg.text(plot.x0 - 17.0, y - 9.5, "frames", 7.0, anchor="end", italic=True)
    for column in labelled(len(places), apart, 5.0 + 4.0 * len(str(len(places)))):
        yield svg.text(places[column], y, str(column), 8.0, anchor="middle", bold=True)
        if column in ends:
            words = "{}–{}".format(*ends[column])
            yield svg.text(places[column], y - 9.5, words, 7.5, anchor="middle")


def _column_ends(plan: Plan) -> dict[int, tuple[int, int]]:
    """First and last frame of each column, as numbers in the sweep from 1."""
    ends: dict[int, tuple[int, int]] = {}
    for number, cell in enumerate(plan.cells, start=1):
        ends[cell.column] = (ends.get(cell.column, (number, number))[0], number)
    return ends
