"""One frame straight up, or down, in place of the rows that would close around the pole.

However the head is turned, such a frame surely shows the circle inside it. The rows reach so far
that they overlap this circle, at every bearing, by as much as they overlap each other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from belvedere.shoot.conditions import Head
from belvedere.shoot.grid_rows import FrameAngles, GridRow, straight_row
from belvedere.shoot.model import GridWish

#: Numbers of steps closer than this to a whole number are that number.
_ROUNDING = 1e-9


def one_frame_at_pole(wish: GridWish, angles: FrameAngles) -> GridRow | None:
    """The frame straight up, or straight down, that covers all that is wanted, if one does."""
    if not wish.full_turn or (wish.rows or 1) > 1 or (wish.columns or 1) > 1:
        return None
    nearer_horizon = min(abs(wish.top_deg), abs(wish.bottom_deg))
    if wish.top_deg * wish.bottom_deg <= 0.0 or nearer_horizon < 90.0 - angles.circle_deg:
        return None
    return straight_row(math.copysign(90.0, wish.top_deg))


def rows_reach_deg(wish: GridWish, angles: FrameAngles) -> float:
    """How far from the horizon the rows must reach to overlap a cap."""
    return 90.0 - angles.circle_deg + wish.overlap_down * angles.vertical_fov_deg


def without_caps(wish: GridWish, angles: FrameAngles) -> GridWish:
    """What is left for the rows to cover, where `wish` asks for caps."""
    reach = rows_reach_deg(wish, angles)
    caps = int(wish.cap_zenith) + int(wish.cap_nadir)
    return replace(
        wish,
        top_deg=reach if wish.cap_zenith else wish.top_deg,
        bottom_deg=-reach if wish.cap_nadir else wish.bottom_deg,
        rows=None if wish.rows is None else wish.rows - caps,
        cap_zenith=False,
        cap_nadir=False,
    )


def with_caps(wish: GridWish, rows: Sequence[GridRow]) -> tuple[GridRow, ...]:
    """`rows` and the caps that `wish` asks for: the first row, and the last."""
    above = (straight_row(90.0),) if wish.cap_zenith else ()
    below = (straight_row(-90.0),) if wish.cap_nadir else ()
    return (*above, *rows, *below)


def tilt_origin_deg(wish: GridWish) -> float | None:
    """An elevation that the head's tilt must stop at; None where it may start anywhere."""
    if wish.cap_zenith:
        return 90.0
    return -90.0 if wish.cap_nadir else None


def cap_problems(wish: GridWish, angles: FrameAngles, head: Head) -> list[str]:
    """Why the caps that `wish` asks for cannot be, a sentence or two each."""
    asked = [name for name in ("cap_zenith", "cap_nadir") if getattr(wish, name)]
    if not asked:
        return []
    if not wish.full_turn:
        return [
            f"{' and '.join(asked)} in [grid] {'needs' if len(asked) == 1 else 'need'} a full "
            "turn: a part of the view has no rows that close around a pole. Use "
            f"full_turn = true, or leave {' and '.join(asked)} out."
        ]
    problems = [text for name in asked for text in _useless(wish, angles, name)]
    if wish.rows is not None and wish.rows <= len(asked):
        problems.append(
            f"rows = {wish.rows} in [grid] counts {' and '.join(asked)} too and leaves no row for "
            f"the turn. Use rows = {len(asked) + 1} or more, or leave rows out."
        )
    steps = 180.0 / head.tilt_step_deg if head.tilt_step_deg else 0.0
    if len(asked) == 2 and abs(steps - round(steps)) > _ROUNDING * max(1.0, steps):
        problems.append(
            "From straight up to straight down, 180°, is not a whole number of steps of "
            f"{head.tilt_step_deg:g}° (tilt_step_deg in [head]). Leave cap_zenith or cap_nadir out."
        )
    return problems


def _useless(wish: GridWish, angles: FrameAngles, name: str) -> list[str]:
    """Nothing, unless the rows cover all that is wanted before they overlap the cap."""
    zenith = name == "cap_zenith"
    edge_name, edge, sign = (
        ("top_deg", wish.top_deg, 1.0) if zenith else ("bottom_deg", wish.bottom_deg, -1.0)
    )
    reach, fov = rows_reach_deg(wish, angles), angles.vertical_fov_deg
    if sign * edge > reach:
        return []
    where = "straight up" if zenith else "straight down"
    if reach >= 90.0:
        most = math.floor(100.0 * angles.circle_deg / fov)
        return [
            f"{name} = true in [grid] is of no use here: of the {angles.circle_deg:.1f}° that a "
            f"frame {where} surely shows around it, an overlap of {wish.overlap_down:.0%} of "
            f"{fov:.1f}° takes {wish.overlap_down * fov:.1f}°. Use an overlap down of less than "
            f"{most}%, or leave {name} out."
        ]
    return [
        f"{name} = true in [grid] is of no use here: to overlap the frame {where}, rows must "
        f"reach {sign * reach:+.1f}°, and {edge_name} is {edge:+.1f}°. "
        f"{'Raise' if zenith else 'Lower'} {edge_name} to {sign * 90.0:+.0f}°, or leave {name} out."
    ]
