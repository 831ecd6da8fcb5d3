"""Advice on what the picture will show: the wish, sharpness, focus, exposure, parallax."""

from __future__ import annotations

import math
from collections.abc import Iterable

from belvedere.foundation import distance_words
from belvedere.optics import (
    SOFT_MTF,
    diffraction_figures,
    f_number_between,
    f_number_words,
    mtf_at_nyquist,
    nearest_nominal_f_number,
    nearest_nominal_shutter_s,
    sharpness_budget,
    shutter_s_for,
    shutter_words,
)
from belvedere.shoot.briefing import Advice, Briefing, FocusZone
from belvedere.shoot.focus import holds, zone_need
from belvedere.shoot.wishes import flat_subject_says, grid_size_deg, out_of_reach

#: Blur by motion, and share of sharpness lost to a narrow aperture, from which we speak up.
_MOTION_PX = 1.0
_DIFFRACTION_LOSS = 0.15
#: Pixels of compacts and telephones.
_SMALL_PITCH_UM = 2.5
#: Any camera screwed on with some care is nearer to the axis than this.
_LOOSE_MM = 30.0
#: How far the settings may be off the light before it is said.
_EXPOSURE_OFF_EV = 0.5


def picture_advice(briefing: Briefing) -> list[Advice]:
    """All of it, in no order."""
    return [
        *_wish(briefing),
        *_aperture_of_lens(briefing),
        *_diffraction(briefing),
        *_compact_rule(briefing),
        *_focus(briefing),
        *_autofocus(briefing),
        *_motion(briefing),
        *_exposure(briefing),
        *_second_pass(briefing),
        *_parallax(briefing),
    ]


def _wish(briefing: Briefing) -> Iterable[Advice]:
    plan = briefing.plan
    wish = plan.shoot.conditions.wish
    if wish is None or briefing.wish is None:
        return
    said = out_of_reach(wish, plan.shoot.camera, plan.shoot.lens, *grid_size_deg(plan))
    if said is not None:
        yield said
    elif not briefing.wish.reached:
        yield Advice(
            "stop",
            f"The wish is not reached: {briefing.wish.reaches}.",
            f"{briefing.wish.says} needs {briefing.wish.needs_focal_length_mm:.4g} mm, and "
            f"[lens] says {plan.shoot.lens.focal_length_mm:g} mm",
            "Take focal_length_mm out of [lens], and it follows from the wish.",
        )
    if flat := flat_subject_says(wish, plan):
        yield Advice("note", flat, "a flat subject is farther away and slanted at the sides")


def _aperture_of_lens(briefing: Briefing) -> Iterable[Advice]:
    lens, used = briefing.plan.shoot.lens, briefing.exposure.f_number
    for limit, beyond, way in (
        (lens.widest_f_number, used < (lens.widest_f_number or 0.0) * 0.99, "opens"),
        (lens.narrowest_f_number, used > (lens.narrowest_f_number or math.inf) * 1.01, "closes"),
    ):
        if limit is not None and beyond:
            yield Advice(
                "stop",
                f"{f_number_words(used)} is not on this lens.",
                f"it {way} to {f_number_words(limit)} and no further",
                f"f_number = {limit:g} in [exposure].",
            )


def _diffraction(briefing: Briefing) -> Iterable[Advice]:
    optics, exposure = briefing.optics, briefing.exposure
    pitch, sweet = optics.pixel_pitch_um, optics.sweet_spot_f_number
    if optics.f_number <= sweet * 1.01:
        return
    now = sharpness_budget(optics.f_number, pitch).combined_px
    best = sharpness_budget(sweet, pitch).combined_px
    loss = 1.0 - best / now
    if loss < _DIFFRACTION_LOSS:
        return
    same = nearest_nominal_shutter_s(shutter_s_for(exposure.ev100, sweet, exposure.iso))
    yield Advice(
        "warn",
        f"At {f_number_words(optics.f_number)} diffraction eats {loss:.0%} of the fineness that "
        f"{f_number_words(sweet)} shows on this sensor.",
        f"the Airy disc spans {optics.airy_px:.1f} px and contrast at the finest the pixels hold "
        f"is down to {optics.mtf_at_nyquist:.0%} ({mtf_at_nyquist(sweet, pitch):.0%} at "
        f"{f_number_words(sweet)})",
        f"{f_number_words(sweet)} and {shutter_words(same)} is the same light; depth of field "
        "shrinks in proportion.",
    )


def _compact_rule(briefing: Briefing) -> Iterable[Advice]:
    """How the trade's rule for small sensors looks in figures on this one."""
    pitch = briefing.optics.pixel_pitch_um
    if pitch > _SMALL_PITCH_UM:
        return
    rule = diffraction_figures(pitch)
    yield Advice(
        "note",
        "Compacts with small sensors are said to soften beyond about f/5.6 (common practice, no "
        "source).",
        f"on these pixels of {pitch:.2f} µm the Airy disc spans {rule.airy_px:.1f} px at f/5.6, "
        f"and contrast at the finest they hold is {rule.mtf_at_nyquist:.0%}; it falls to "
        f"{SOFT_MTF:.0%} at f/{rule.soft_f_number:.1f}, and the disc spans two pixels already at "
        f"f/{rule.airy_two_px_f_number:.1f}",
        f"The sweet spot by our criterion is "
        f"{f_number_words(briefing.optics.sweet_spot_f_number)}.",
    )


def _focus(briefing: Briefing) -> Iterable[Advice]:
    plan = briefing.plan
    for zone in briefing.focus.zones:
        need = zone_need(plan, zone)
        if need is None or holds(zone, need):
            continue
        yield Advice(
            "warn",
            f"{_rows(zone).capitalize()} cannot be sharp from {need.near_m:g} m to "
            f"{distance_words(need.far_m)} at "
            f"{f_number_words(briefing.optics.f_number)}: {_reach(zone)} is.",
            f"measured by a circle of {briefing.optics.circle_mm * 1e3:.1f} µm "
            f"({briefing.optics.circle_rule})",
            _focus_remedy(briefing, need.near_m, need.far_m),
        )
    if len(briefing.focus.zones) > 1:
        zones = "; ".join(
            f"{_rows(z)} at {distance_words(z.focus_m)}" for z in briefing.focus.zones
        )
        yield Advice(
            "note",
            f"Focus changes {_times(len(briefing.focus.zones) - 1)}: {zones}.",
            "no single setting is sharp over the whole depth",
            "Pause the head between these rows, set the focus by hand, and go on.",
        )


def _focus_remedy(briefing: Briefing, near_m: float, far_m: float) -> str:
    focal = briefing.plan.shoot.lens.focal_length_mm
    needed = f_number_between(near_m, far_m, focal, briefing.optics.circle_mm)
    twice = "sweep these rows twice, focused near and far"
    if not math.isfinite(needed) or needed > 64.0:
        return f"Step back from what is near, or {twice}."
    narrowest = briefing.plan.shoot.lens.narrowest_f_number or 32.0
    if needed > narrowest:
        return f"Even {f_number_words(narrowest)} is not enough: {twice}, or step back."
    marked = nearest_nominal_f_number(needed * 1.06)
    same = shutter_s_for(briefing.exposure.ev100, marked, briefing.exposure.iso)
    return (
        f"{f_number_words(marked)} and {shutter_words(nearest_nominal_shutter_s(same))} would "
        f"hold it (see what diffraction takes), or {twice}."
    )


def _autofocus(briefing: Briefing) -> Iterable[Advice]:
    for trouble in briefing.focus.troubles:
        rows = f"row {trouble.first_row}"
        if trouble.last_row != trouble.first_row:
            rows = f"rows {trouble.first_row} to {trouble.last_row}"
        yield Advice(
            "note",
            f"Autofocus will fail in {rows} ({trouble.region}).",
            trouble.why,
            f"{trouble.do[:1].upper()}{trouble.do[1:]}.",
        )


def _motion(briefing: Briefing) -> Iterable[Advice]:
    motion, exposure = briefing.optics.sharpness.motion_px, briefing.exposure
    if motion <= _MOTION_PX:
        return
    shorter = exposure.shutter_s / motion
    faster = exposure.iso * motion
    yield Advice(
        "warn",
        f"What moves smears over {motion:.1f} px in {shutter_words(exposure.shutter_s)}.",
        "subjects, shake or stars move by that much on the sensor during the exposure",
        f"{shutter_words(nearest_nominal_shutter_s(shorter))} keeps it within a pixel: open the "
        f"aperture, or ISO {_round_iso(faster)} at the cost of noise.",
    )


def _exposure(briefing: Briefing) -> Iterable[Advice]:
    exposure = briefing.exposure
    meant = shutter_s_for(exposure.ev100, exposure.f_number, exposure.iso)
    off = math.log2(exposure.shutter_s / meant)
    if abs(off) > _EXPOSURE_OFF_EV:
        yield Advice(
            "warn",
            f"The settings are {abs(off):.1f} EV {'too bright' if off > 0 else 'too dark'} for "
            f"this light.",
            f"EV {exposure.ev100:.1f} ({exposure.source}) at {f_number_words(exposure.f_number)} "
            f"and ISO {exposure.iso:g} asks for {shutter_words(nearest_nominal_shutter_s(meant))}",
            "Leave shutter_s out of [exposure], or correct the light.",
        )


def _second_pass(briefing: Briefing) -> Iterable[Advice]:
    exposure = briefing.exposure
    if exposure.second_pass_ev is None or exposure.scene_range_ev is None:
        return
    yield Advice(
        "warn",
        f"A second sweep, {exposure.second_pass_ev:g} EV longer, is wise.",
        f"the scene spans {exposure.scene_range_ev:.1f} EV and the camera holds "
        f"{exposure.camera_range_ev:.1f}",
        "Expose the first for the bright side and the second for the shade, every frame of a "
        "sweep alike; or come back when the sun is on the other side.",
    )


def _parallax(briefing: Briefing) -> Iterable[Advice]:
    tolerance = briefing.optics.parallax_mm
    if tolerance is None or tolerance > _LOOSE_MM:
        return
    yield Advice(
        "warn" if tolerance < 2.0 else "note",
        f"The entrance pupil must be within {tolerance:.3g} mm of the head's axis.",
        "else near things move against far ones by more than half a pixel between neighbours",
        "Line up a near and a far upright edge, turn the head so that they cross the frame, and "
        "slide the camera until they stay in line.",
    )


def _rows(zone: FocusZone) -> str:
    if zone.first_row == zone.last_row:
        return f"row {zone.first_row}"
    between = "and" if zone.last_row == zone.first_row + 1 else "to"
    return f"rows {zone.first_row} {between} {zone.last_row}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _reach(zone: FocusZone) -> str:
    return f"{distance_words(zone.near_m)} to {distance_words(zone.far_m)}"


def _round_iso(iso: float) -> int:
    return int(100 * 2 ** math.ceil(math.log2(max(iso, 100.0) / 100.0) - 0.05))
