"""Exposure: how bright it is, what to dial in, and why each setting stands still.

One exposure for the whole sweep: neighbours must agree where they overlap, and a camera that
decides anew for each frame makes steps that no assembly can hide well.
"""

from __future__ import annotations

import math

from belvedere.optics import (
    apex_av,
    apex_sv,
    apex_tv,
    ev100,
    ev100_of,
    f_number_words,
    iso_for,
    nearest_nominal_shutter_s,
    shutter_s_for,
    shutter_words,
)
from belvedere.shoot.briefing import Dial, ExposureFacts
from belvedere.shoot.conditions import ExposureWish
from belvedere.shoot.model import Plan

#: Where nothing is said of the light: hazy sun of the light-value table, and it is said.
ASSUMED_LIGHT = "hazy sun"
#: What a JPEG at base ISO holds between noise and white; common practice, no source.
ASSUMED_RANGE_EV = 9.0
#: The lowest ISO of most cameras.
ASSUMED_ISO = 100.0
#: From this exposure time on a plan is long: a self-timer, a dark frame, the wind.
LONG_S = 1.0


def exposure_facts(
    plan: Plan, sweet_spot_f_number: float, daylight_ev100: float | None
) -> tuple[ExposureFacts, tuple[str, ...]]:
    """Exposure of the plan, and what was assumed for it.

    `daylight_ev100` is what sun and place say of the start, None where they are unknown.
    """
    wish = plan.shoot.conditions.exposure
    f_number = wish.f_number or sweet_spot_f_number
    iso = wish.iso or ASSUMED_ISO
    light, source, assumed = _light(wish, daylight_ev100)
    shutter_s = wish.shutter_s
    if shutter_s is not None and wish.iso is None:
        iso = iso_for(light, f_number, shutter_s)
    if shutter_s is None:
        shutter_s = nearest_nominal_shutter_s(shutter_s_for(light, f_number, iso))
    if wish.iso is None and wish.shutter_s is None:
        assumed += ("ISO 100: use the lowest that your camera calls its own (not an extended one)",)
    scene = _scene_range_ev(plan)
    camera = wish.dynamic_range_ev or ASSUMED_RANGE_EV
    if scene is not None and wish.dynamic_range_ev is None:
        assumed += (f"the camera holds {ASSUMED_RANGE_EV:g} EV from shadow to white",)
    is_sweet = f_number <= sweet_spot_f_number * 1.01
    return (
        ExposureFacts(
            ev100=light,
            source=source,
            f_number=f_number,
            shutter_s=shutter_s,
            iso=iso,
            av=apex_av(f_number),
            tv=apex_tv(shutter_s),
            sv=apex_sv(iso),
            bv=light - 5.0,
            scene_range_ev=scene,
            camera_range_ev=camera,
            second_pass_ev=_second_pass_ev(scene, camera),
            dials=_dials(plan, f_number, is_sweet, shutter_s, iso, light),
        ),
        assumed,
    )


def _light(wish: ExposureWish, daylight_ev100: float | None) -> tuple[float, str, tuple[str, ...]]:
    """EV at ISO 100, where it comes from, and what was assumed."""
    if wish.ev100 is not None:
        return wish.ev100, "as given", ()
    if wish.light is not None:
        lit = {"front": "lit from the front", "side": "lit from the side", "back": "backlit"}
        value = ev100_of(wish.light, wish.lit_from)
        return value, f"{wish.light}, {lit[wish.lit_from]}, by the light-value table", ()
    if wish.metered_f_number and wish.metered_shutter_s and wish.metered_iso:
        value = ev100(wish.metered_f_number, wish.metered_shutter_s, wish.metered_iso)
        return value, "as metered", ()
    if wish.f_number and wish.shutter_s and wish.iso:
        return ev100(wish.f_number, wish.shutter_s, wish.iso), "from the settings given", ()
    if daylight_ev100 is not None:
        says = "no light given: that of a clear sky with the sun where it stands at the start"
        return daylight_ev100, "sun and clear sky at the start", (says,)
    value = ev100_of(ASSUMED_LIGHT, "front")
    return value, ASSUMED_LIGHT, (f"no light given: {ASSUMED_LIGHT}; meter on site",)


def _scene_range_ev(plan: Plan) -> float | None:
    wish = plan.shoot.conditions.exposure
    values = [wish.brightest_ev100, wish.darkest_ev100]
    values += [region.ev100 for region in plan.shoot.conditions.regions]
    known = [value for value in values if value is not None]
    return max(known) - min(known) if len(known) > 1 else None


def _second_pass_ev(scene_ev: float | None, camera_ev: float) -> float | None:
    """How much longer a second sweep should expose; None where one holds everything."""
    if scene_ev is None or scene_ev <= camera_ev:
        return None
    return float(math.ceil(scene_ev - camera_ev))


def _dials(
    plan: Plan, f_number: float, is_sweet: bool, shutter_s: float, iso: float, light: float
) -> tuple[Dial, ...]:
    conditions = plan.shoot.conditions
    long = shutter_s >= LONG_S
    dark = conditions.cycle.dark_frame_from_s
    return (
        Dial("mode", "manual", "every frame must be exposed alike, or neighbours show a step"),
        Dial("aperture", f_number_words(f_number), _why_aperture(is_sweet)),
        Dial("shutter", shutter_words(shutter_s), "follows from light, aperture and ISO"),
        Dial(
            "ISO",
            f"{iso:g}, not auto",
            "the lowest is the cleanest: most of all on a small sensor, whose pixels hold little",
        ),
        Dial(
            "white balance",
            _white_balance(light),
            "automatic changes with what is in the frame; a fixed one that is a bit off can be "
            "mended for all frames at once",
        ),
        Dial("focus", _focus_words(conditions.focus.distance_m), "autofocus hunts in plain sky"),
        Dial("flash", "off", "it lights only what is near, and slows the camera"),
        Dial(
            "filters",
            "none",
            "grey filters lengthen the exposure, a polariser darkens the sky "
            "unevenly across a wide view",
        ),
        Dial("drive", "single", "one release, one frame: a burst fills the buffer between moves"),
        Dial("quality", "finest JPEG, full size", "RAW too, if the card writes it in the interval"),
        Dial(
            "self-timer",
            f"{conditions.cycle.self_timer_s:g} s" if conditions.cycle.self_timer_s else "off",
            "lets the vibration of the release die"
            if conditions.cycle.self_timer_s or long
            else "at this shutter speed the head's own settling is enough",
        ),
        Dial(
            "stabiliser",
            "off on the tripod",
            "it drifts when nothing moves, unless the maker says it knows a tripod",
        ),
        Dial(
            "dark frame",
            "on" if dark is not None and shutter_s >= dark else "off",
            "takes as long as the exposure again: only worth it from about a second on",
        ),
        Dial(
            "review",
            "off" if not conditions.cycle.review_s else "on",
            "costs battery, and on some cameras the next release",
        ),
        Dial("power saving", "off", "a camera that falls asleep misses every later frame"),
    )


def _why_aperture(is_sweet: bool) -> str:
    if is_sweet:
        return "a narrower one loses detail to diffraction"
    return "for its depth: diffraction already takes some detail"


def _white_balance(light: float) -> str:
    if light >= 11.0:
        return "daylight, fixed"
    return "fixed: set once on site, and left" if light >= 4.0 else "fixed, about 4000 K by lamps"


def _focus_words(distance_m: float | None) -> str:
    return "manual, by the focus zones" if distance_m is None else f"manual, at {distance_m:g} m"
