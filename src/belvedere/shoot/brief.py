"""The whole answer: from a plan to everything that follows from it."""

from __future__ import annotations

import math

import numpy as np

from belvedere.light import (
    LightFacts,
    Site,
    SweptCells,
    daylight_ev100,
    light_over,
    sun_positions,
)
from belvedere.optics import (
    FULL_FRAME_DIAGONAL_MM,
    SharpnessBudget,
    airy_diameter_um,
    circle_of_confusion_mm,
    defocus_blur_mm,
    field_of_view_deg,
    hyperfocal_m,
    mtf_at_nyquist,
    pixel_angle_arcsec,
    shake_px,
    sharpness_budget,
    star_motion_px,
    subject_motion_px,
    sweet_spot_f_number,
)
from belvedere.shoot.briefing import Briefing, FocusFacts, FocusZone, OpticsFacts, TimingFacts
from belvedere.shoot.card import card_facts
from belvedere.shoot.conditions import Place
from belvedere.shoot.counsel import counsel
from belvedere.shoot.exposing import exposure_facts
from belvedere.shoot.focus import FocusLens, focus_facts, pupil_offset_mm, scene_depth, zone_need
from belvedere.shoot.model import Plan
from belvedere.shoot.power import power_facts
from belvedere.shoot.sweep_ages import sweep_facts, touching_pairs
from belvedere.shoot.timing import release_times_s, timing_facts
from belvedere.shoot.tripod import rows_that_see_the_tripod
from belvedere.shoot.wishes import mm_per_px, print_sizes, wish_facts


def brief(plan: Plan) -> Briefing:
    """Everything to decide before the head is powered.

    Raises
    ------
    PlanError
        Where a number of the shoot file has no meaning.
    """
    conditions = plan.shoot.conditions
    sweet = sweet_spot_f_number(
        pixel_pitch_um(plan), plan.shoot.lens.widest_f_number, plan.shoot.lens.narrowest_f_number
    )
    exposure, assumed_light = exposure_facts(plan, sweet, _daylight_ev100(plan))
    lens = FocusLens(plan.shoot.lens.focal_length_mm, exposure.f_number, circle_mm(plan))
    focus = focus_facts(plan, lens)
    timing, assumed_timing = timing_facts(plan, exposure.shutter_s)
    card, assumed_card = card_facts(plan, conditions.card)
    power, assumed_power = power_facts(plan, timing, conditions.power)
    sweep = sweep_facts(plan, lambda other: release_times_s(other, timing.interval_s))
    draft = Briefing(
        plan=plan,
        wish=None if conditions.wish is None else wish_facts(conditions.wish, plan),
        prints=print_sizes(plan.mosaic_width_px, plan.mosaic_height_px),
        optics=_optics(plan, lens, focus, exposure.shutter_s, sweet),
        focus=focus,
        exposure=exposure,
        timing=timing,
        card=card,
        power=power,
        light=_light(plan, timing),
        sweep=sweep,
        tripod_rows=rows_that_see_the_tripod(plan),
        advice=(),
        assumed=tuple(
            dict.fromkeys(
                (
                    *assumed_light,
                    *_assumed_still(plan),
                    *assumed_timing,
                    *assumed_card,
                    *assumed_power,
                )
            )
        ),
    )
    return counsel(draft)


def pixel_pitch_um(plan: Plan) -> float:
    """Distance of two pixels on the sensor."""
    camera = plan.shoot.camera
    return camera.sensor_width_mm / camera.image_width_px * 1e3


def circle_mm(plan: Plan) -> float:
    """Circle of confusion that the shoot file asks for; one pixel unless told."""
    focus, camera = plan.shoot.conditions.focus, plan.shoot.camera
    if focus.circle_mm is not None:
        return focus.circle_mm
    return circle_of_confusion_mm(
        focus.circle, pixel_pitch_um(plan), camera.sensor_width_mm, camera.sensor_height_mm
    )


def _optics(
    plan: Plan, lens: FocusLens, focus: FocusFacts, shutter_s: float, sweet: float
) -> OpticsFacts:
    camera, pitch = plan.shoot.camera, pixel_pitch_um(plan)
    diagonal_mm = math.hypot(camera.sensor_width_mm, camera.sensor_height_mm)
    zone = max(focus.zones, key=lambda zone: zone.last_row - zone.first_row)
    airy_um = airy_diameter_um(lens.f_number)
    wish, rule = plan.shoot.conditions.wish, plan.shoot.conditions.focus
    at_m = wish.distance_m if wish is not None and wish.distance_m is not None else None
    if at_m is None and (depth := scene_depth(plan)) is not None and depth.near_m < math.inf:
        at_m = depth.near_m
    return OpticsFacts(
        pixel_pitch_um=pitch,
        crop_factor=FULL_FRAME_DIAGONAL_MM / diagonal_mm,
        hfov_deg=plan.horizontal_fov_deg,
        vfov_deg=plan.vertical_fov_deg,
        dfov_deg=field_of_view_deg(
            math.hypot(camera.image_width_px, camera.image_height_px), plan.focal_length_px
        ),
        arcsec_per_px=pixel_angle_arcsec(plan.focal_length_px),
        mm_per_px=None if at_m is None else mm_per_px(at_m, plan.focal_length_px),
        mm_per_px_at_m=at_m,
        f_number=lens.f_number,
        circle_mm=lens.circle_mm,
        circle_rule="as given" if rule.circle_mm is not None else _rule_words(rule.circle),
        focus_m=zone.focus_m,
        hyperfocal_m=hyperfocal_m(lens.focal_length_mm, lens.f_number, lens.circle_mm),
        near_m=zone.near_m,
        far_m=zone.far_m,
        airy_um=airy_um,
        airy_px=airy_um / pitch,
        mtf_at_nyquist=mtf_at_nyquist(lens.f_number, pitch),
        sweet_spot_f_number=sweet,
        sharpness=_sharpness(plan, lens, focus, shutter_s),
        parallax_mm=pupil_offset_mm(plan),
    )


def _rule_words(rule: str) -> str:
    return "one pixel" if rule == "pixel" else "sensor diagonal / 1500"


def _sharpness(plan: Plan, lens: FocusLens, focus: FocusFacts, shutter_s: float) -> SharpnessBudget:
    return sharpness_budget(
        lens.f_number,
        pixel_pitch_um(plan),
        defocus_blur_mm=max(_worst_defocus_mm(plan, lens, zone) for zone in focus.zones),
        motions_px=motions_px(plan, shutter_s),
    )


def _worst_defocus_mm(plan: Plan, lens: FocusLens, zone: FocusZone) -> float:
    need = zone_need(plan, zone)
    distances = [math.inf] if need is None else [need.near_m, need.far_m]
    return max(
        defocus_blur_mm(distance_m, zone.focus_m, lens.focal_length_mm, lens.f_number)
        for distance_m in distances
    )


def motions_px(plan: Plan, shutter_s: float) -> tuple[float, ...]:
    """Streaks of an exposure that do not know of each other: shake, the fastest subject, stars."""
    steadiness, focal_px = plan.shoot.conditions.steadiness, plan.focal_length_px
    found = []
    if steadiness.shake_arcsec and steadiness.shake_hz:
        found.append(shake_px(steadiness.shake_arcsec, steadiness.shake_hz, shutter_s, focal_px))
    subjects = [
        subject_motion_px(region.speed_m_s, region.nearest_m, shutter_s, focal_px)
        for region in plan.shoot.conditions.regions
        if region.speed_m_s > 0.0 and region.nearest_m < math.inf
    ]
    found += [max(subjects)] if subjects else []
    if steadiness.stars:
        found.append(star_motion_px(shutter_s, focal_px))
    return tuple(found)


def _assumed_still(plan: Plan) -> tuple[str, ...]:
    if plan.shoot.conditions.steadiness.shake_arcsec is not None:
        return ()
    return ("no shake_arcsec in [steadiness]: the camera stands still while it exposes",)


def _daylight_ev100(plan: Plan) -> float | None:
    place, start = plan.shoot.conditions.place, plan.shoot.conditions.start
    if place is None or start is None:
        return None
    sun = sun_positions([start], place.latitude_deg, place.longitude_deg, place.altitude_m)
    return float(daylight_ev100(sun.elevation_deg)[0])


def _light(plan: Plan, timing: TimingFacts) -> LightFacts | None:
    place, start = plan.shoot.conditions.place, plan.shoot.conditions.start
    if place is None or start is None:
        return None
    azimuth = None
    if place.zero_bearing_deg is not None:
        azimuth = np.array([cell.bearing_deg for cell in plan.cells]) + place.zero_bearing_deg
    cells = SweptCells(
        release_s=np.array(timing.release_s),
        azimuth_deg=azimuth,
        elevation_deg=np.array([cell.elevation_deg for cell in plan.cells]),
        hfov_deg=plan.horizontal_fov_deg,
        vfov_deg=plan.vertical_fov_deg,
        touching=touching_pairs(plan),
    )
    return light_over(start, _site(place), cells)


def _site(place: Place) -> Site:
    return Site(place.latitude_deg, place.longitude_deg, place.altitude_m)
