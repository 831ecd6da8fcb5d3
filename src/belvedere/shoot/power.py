"""Energy of head and camera over a shoot, what a pack holds in the cold, and what its voltage says.

Nickel-metal hydride cells: 1.2 V nominal, 1.4 to 1.45 V full at rest, a long plateau near 1.2 V,
empty at 1.0 V (makers' pages and a cell data sheet of 2005). Lithium-ion cells: 3.6 or 3.7 V
nominal, 4.2 V full, empty near 3.0 V (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from belvedere.foundation import PlanError
from belvedere.shoot.briefing import PowerFacts, TimingFacts
from belvedere.shoot.conditions import Power
from belvedere.shoot.model import Plan
from belvedere.shoot.timing import move_times_s

# What is taken where the shoot file is silent: common practice, no source.
#: Motors that hold their place, and electronics; motors that turn.
USUAL_HEAD_IDLE_W, USUAL_HEAD_MOVING_W = 2.0, 6.0
#: A compact camera that is on, its screen lit; what one frame takes beside that.
USUAL_CAMERA_ON_W, USUAL_CAMERA_FRAME_J = 1.5, 4.0

#: Share of a pack that stays in it: packs age, and the last frames matter as much as the first.
MARGIN = 0.25

#: Usable share of the nominal capacity by temperature in °C, for both kinds of cells (common
#: practice, no source; data sheets differ by more than the kinds do).
COLD_C = (-20.0, -10.0, 0.0, 10.0, 20.0)
COLD_SHARE = (0.45, 0.65, 0.80, 0.92, 1.0)
#: What people and packs bear; beyond it a number is a slip of the pen.
_COLDEST_C, _HOTTEST_C = -50.0, 60.0

_JOULES_PER_WH = 3600.0


@dataclass(frozen=True, slots=True)
class Chemistry:
    """One cell's voltages.

    At rest: full from, much used below, nearly flat below. Under load: just below the plateau
    under `load_low_v`, to be swapped at once under `load_flat_v`. Below `empty_v` a cell is harmed.
    """

    name: str
    nominal_v: float
    full_v: tuple[float, float]
    rest_low_v: float
    rest_flat_v: float
    load_low_v: float
    load_flat_v: float
    empty_v: float


NIMH = Chemistry("NiMH", 1.2, (1.4, 1.45), 1.25, 1.2, 1.2, 1.1, 1.0)
LI_ION = Chemistry("Li-ion", 3.6, (4.1, 4.2), 3.7, 3.5, 3.5, 3.3, 3.0)


def power_facts(
    plan: Plan, timing: TimingFacts, power: Power
) -> tuple[PowerFacts, tuple[str, ...]]:
    """Energy of the shoot, what the packs hold, and after how many frames to swap them.

    Returns
    -------
    The facts, and what was assumed, a sentence each. `margin` is the share of a pack that is left
    in it; packs are what can be used at this temperature, the margin included.

    Raises
    ------
    PlanError
        For a temperature, voltage or count of cells that cannot be.
    """
    filled, assumed = _with_usual_values(power)
    usable, cold = usable_share(power.temperature_c), _cold_words(power.temperature_c)
    frames = len(plan.cells)
    # The last frame is still to be taken when the last release has been.
    lasting_s = timing.duration_s + timing.camera_s
    moving_s = min(float(move_times_s(plan).sum()), lasting_s)
    head_wh = (
        _needed(filled.head_idle_w) * (lasting_s - moving_s)
        + _needed(filled.head_moving_w) * moving_s
    ) / _JOULES_PER_WH
    camera_wh = (
        _needed(filled.camera_on_w) * lasting_s + _needed(filled.camera_frame_j) * frames
    ) / _JOULES_PER_WH
    head_pack_wh, camera_pack_wh = _head_pack_wh(power), power.camera_pack_wh
    head_usable = None if head_pack_wh is None else head_pack_wh * usable
    camera_usable = None if camera_pack_wh is None else camera_pack_wh * usable
    facts = PowerFacts(
        wh=head_wh + camera_wh,
        head_wh=head_wh,
        camera_wh=camera_wh,
        head_pack_wh=head_usable,
        camera_pack_wh=camera_usable,
        margin=MARGIN,
        head_swap_after_frames=_swap_after(head_usable, head_wh / frames),
        camera_swap_after_frames=_swap_after(camera_usable, camera_wh / frames),
        pack_says=pack_says(power),
    )
    known = head_pack_wh is not None or camera_pack_wh is not None
    return facts, (*assumed, *(cold if known else ()))


def usable_share(temperature_c: float) -> float:
    """Share of a pack's nominal energy that it gives at this temperature, at most 1.

    Raises
    ------
    PlanError
        For a temperature that nobody shoots in.
    """
    if not _COLDEST_C <= temperature_c <= _HOTTEST_C:
        raise PlanError(
            f"temperature_c = {temperature_c:g} in [power] is not between {_COLDEST_C:g} and "
            f"{_HOTTEST_C:g} °C.",
            "Give the temperature in °C that the packs will have.",
        )
    return float(np.interp(temperature_c, COLD_C, COLD_SHARE))


def pack_says(power: Power) -> str:
    """What the head's pack means by its voltage at rest and under load.

    At rest: switched off for some minutes. Under load: while the motors turn.

    Raises
    ------
    PlanError
        For a nominal voltage that does not go with the count of cells.
    """
    found = _cells(power)
    if found is None:
        return (
            "No pack is known. Per NiMH cell: full at rest 1.40–1.45 V, nominal 1.2 V; under load "
            "below 1.2 V, finish the row and swap; empty at 1.0 V."
        )
    cells, kind = found
    says = [_pack_words(cells, kind)]
    if power.head_load_v is not None:
        says.append(f"{power.head_load_v:.1f} V under load: {_under_load(power, cells, kind)}")
    if power.head_rest_v is not None:
        says.append(f"{power.head_rest_v:.1f} V at rest: {_at_rest(power, cells, kind)}")
    return " ".join(says)


def _pack_words(cells: int, kind: Chemistry) -> str:
    full = "–".join(f"{cells * volts:.1f}" for volts in kind.full_v)
    of = "cell" if cells == 1 else "cells"
    return (
        f"{cells} {kind.name} {of}: full at rest {full} V, nominal {cells * kind.nominal_v:.1f} V; "
        f"under load below {cells * kind.load_low_v:.1f} V, finish the row and swap; empty at "
        f"{cells * kind.empty_v:.1f} V, where cells are harmed."
    )


def _under_load(power: Power, cells: int, kind: Chemistry) -> str:
    volts = _needed(power.head_load_v) / cells
    if volts <= kind.empty_v:
        return "empty; stop and swap, the cells are being harmed."
    if volts < kind.load_flat_v:
        return "nearly empty; swap now."
    if volts < kind.load_low_v:
        return "just below the plateau; finish the row and swap."
    return "on the plateau or above; go on."


def _at_rest(power: Power, cells: int, kind: Chemistry) -> str:
    volts = _needed(power.head_rest_v) / cells
    if volts <= kind.empty_v:
        return "empty; it may be harmed, charge it with care and test it."
    if volts < kind.rest_flat_v:
        return "nearly flat; swap before you start."
    if volts < kind.rest_low_v:
        return "much used; swap before a long sweep."
    if volts < kind.full_v[0]:
        return "partly used; the voltage does not tell how much on a plateau."
    return "full."


def _cells(power: Power) -> tuple[int, Chemistry] | None:
    """How many cells of which kind; None where the pack is not known."""
    volts, cells = power.head_pack_v, power.head_cells
    if cells is not None and cells < 1:
        raise PlanError(f"head_cells = {cells} in [power] is no pack.", "Count its cells.")
    if volts is None:
        return None if cells is None else (cells, NIMH)
    if cells is not None:
        per_cell = volts / cells
        if 1.1 <= per_cell <= 1.3:
            return cells, NIMH
        if 3.2 <= per_cell <= 3.9:
            return cells, LI_ION
        raise PlanError(
            f"head_pack_v = {volts:g} and head_cells = {cells} in [power] make {per_cell:.2f} V a "
            "cell, which is neither NiMH (1.2 V) nor Li-ion (3.6 V).",
            "Read both off the pack.",
        )
    if abs(volts / 1.2 - round(volts / 1.2)) * 1.2 < 0.05:
        return round(volts / 1.2), NIMH
    for nominal in (3.6, 3.7):
        if volts > 3.0 and abs(volts / nominal - round(volts / nominal)) * nominal < 0.15:
            return round(volts / nominal), LI_ION
    return None


def _head_pack_wh(power: Power) -> float | None:
    if power.head_pack_ah is None:
        return None
    if power.head_pack_v is not None:
        return power.head_pack_v * power.head_pack_ah
    if power.head_cells is not None:
        return power.head_cells * NIMH.nominal_v * power.head_pack_ah
    return None


def _swap_after(usable_wh: float | None, frame_wh: float) -> int | None:
    """Whole frames that leave the margin in the pack; may be more than the shoot has."""
    if usable_wh is None or frame_wh <= 0.0:
        return None
    return int((1.0 - MARGIN) * usable_wh / frame_wh)


def _with_usual_values(power: Power) -> tuple[Power, tuple[str, ...]]:
    usual = {
        "head_idle_w": (USUAL_HEAD_IDLE_W, "W while the head stands"),
        "head_moving_w": (USUAL_HEAD_MOVING_W, "W while it moves"),
        "camera_on_w": (USUAL_CAMERA_ON_W, "W while the camera is on"),
        "camera_frame_j": (USUAL_CAMERA_FRAME_J, "J a frame"),
    }
    missing = [key for key in usual if getattr(power, key) is None]
    said = tuple(f"no {key} in [power]: {usual[key][0]:g} {usual[key][1]}" for key in missing)
    values = {key: getattr(power, key) for key in usual} | {key: usual[key][0] for key in missing}
    filled = replace(
        power,
        head_idle_w=values["head_idle_w"],
        head_moving_w=values["head_moving_w"],
        camera_on_w=values["camera_on_w"],
        camera_frame_j=values["camera_frame_j"],
    )
    return filled, said


def _cold_words(temperature_c: float) -> tuple[str, ...]:
    share = usable_share(temperature_c)
    if share >= 1.0:
        return ()
    return (
        f"at {temperature_c:g} °C a pack gives about {share:.0%} of what is printed on it (common "
        "practice); warm spares in a pocket give more",
    )


def _needed(value: float | None) -> float:
    """A value that has been filled in."""
    return 0.0 if value is None else value
