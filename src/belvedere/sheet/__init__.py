"""The field sheet and the plan's pictures: what to take along on paper."""

from belvedere.sheet.age_map import age_map
from belvedere.sheet.checked_grid import GridCell, GridLayout, checked_grid, lay_checked_grid
from belvedere.sheet.field_sheet import Paper, field_sheet, field_sheet_png
from belvedere.sheet.globe import grid_on_sphere
from belvedere.sheet.grid_picture import grid_picture
from belvedere.sheet.interval_curve import interval_curve
from belvedere.sheet.picture_png import picture_png
from belvedere.sheet.why_picture import Picture, WhyRow, why_picture

__all__ = [
    "GridCell",
    "GridLayout",
    "Paper",
    "Picture",
    "WhyRow",
    "age_map",
    "checked_grid",
    "field_sheet",
    "field_sheet_png",
    "grid_on_sphere",
    "grid_picture",
    "interval_curve",
    "lay_checked_grid",
    "picture_png",
    "why_picture",
]
