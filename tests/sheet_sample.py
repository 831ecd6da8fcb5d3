"""Made-up briefings for the tests of the sheet: true grids, plausible numbers, invented place.

Nothing here is computed by the planner: a sheet must look right whatever the numbers are.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta, timezone

from belvedere.light import LightEvent, LightFacts, StartChoice, SunAt, SunInCell
from belvedere.optics import SharpnessBudget
from belvedere.shoot import (
    Advice,
    AutofocusTrouble,
    Briefing,
    Camera,
    CardFacts,
    Conditions,
    CyclePart,
    Dial,
    ExposureFacts,
    FocusFacts,
    FocusZone,
    GridWish,
    Lens,
    OpticsFacts,
    Place,
    Plan,
    PowerFacts,
    PrintSize,
    Region,
    RiskPoint,
    Shoot,
    Sweep,
    SweepChoice,
    SweepFacts,
    TimingFacts,
    WishFacts,
    make_plan,
)

ZONE = timezone(timedelta(hours=1))
START = datetime(2031, 5, 17, 17, 40, tzinfo=ZONE)
PLACE = Place(54.32, -1.05, 8.0, zero_bearing_deg=285.0, time_zone="Etc/GMT-1")
CAMERA = Camera(7.44, 5.58, 3648, 2736)
UPRIGHT = Camera(5.58, 7.44, 2736, 3648)


def harbour_plan(
    title: str = "Saltmere harbour from the mole",
    *,
    camera: Camera = CAMERA,
    focal_mm: float = 44.0,
    edges: tuple[float, float, float, float] = (-41.0, 41.0, 14.0, -13.0),
    sweep: Sweep | None = None,
    conditions: Conditions | None = None,
) -> Plan:
    """The harbour of docs/examples/saltmere/shoot.toml, or another part of the view."""
    left, right, top, bottom = edges
    wish = GridWish(top, bottom, left, right, 0.30, 0.30)
    where = conditions or Conditions(place=PLACE, start=START)
    return make_plan(
        Shoot(title, camera, Lens(focal_mm), wish, sweep or Sweep(interval_s=3.0), where)
    )


def briefing_of(plan: Plan) -> Briefing:
    """A whole briefing around a true plan."""
    count = len(plan.cells)
    interval = plan.shoot.sweep.interval_s or 3.5
    release = tuple(index * interval for index in range(count))
    return Briefing(
        plan=plan,
        wish=WishFacts("12 mm letters at 60 m on 8 pixels", 41.3, True, "8.5 pixels"),
        prints=(PrintSize(300.0, 2600.0, 860.0, 291.0), PrintSize(150.0, 5200.0, 1720.0, 582.0)),
        optics=_optics(plan),
        focus=_focus(plan),
        exposure=_exposure(),
        timing=_timing(interval, release),
        card=CardFacts(
            count, 4_600_000 * count, 5_100_000 * count, 14.0, 4.6, 7_200_000_000, 1, None
        ),
        power=PowerFacts(
            3.4, 2.1, 1.3, 24.0, 3.6, 0.62, None, 380, "7.4 V, 3.2 Ah: 24 Wh at 12 °C"
        ),
        light=_light(plan, release) if plan.shoot.conditions.place else None,
        sweep=_sweep(plan, release),
        tripod_rows=(),
        advice=(
            Advice(
                "note",
                "The tide falls by 0.4 m during the sweep.",
                "Boats move against the quay between two rows.",
                "Sweep the quay first.",
            ),
        ),
        assumed=("settle 0.8 s", "card writes 14 MB/s", "processing 0.9 s a frame"),
    )


def _optics(plan: Plan) -> OpticsFacts:
    across, down = plan.horizontal_fov_deg, plan.vertical_fov_deg
    return OpticsFacts(
        pixel_pitch_um=2.04,
        crop_factor=4.65,
        hfov_deg=across,
        vfov_deg=down,
        dfov_deg=math.hypot(across, down),
        arcsec_per_px=9.56,
        mm_per_px=2.8,
        mm_per_px_at_m=60.0,
        f_number=4.0,
        circle_mm=0.00204,
        circle_rule="one pixel",
        focus_m=120.0,
        hyperfocal_m=237.0,
        near_m=79.6,
        far_m=243.0,
        airy_um=5.37,
        airy_px=2.6,
        mtf_at_nyquist=0.36,
        sweet_spot_f_number=4.0,
        sharpness=SharpnessBudget(1.4, 0.8, 0.4, 1.0, 1.9, "full width at half maximum"),
        parallax_mm=14.0,
    )


def _focus(plan: Plan) -> FocusFacts:
    if plan.rows < 3:
        zones = (FocusZone(120.0, 79.6, 243.0, 1, plan.rows, ("harbour",)),)
        return FocusFacts(zones, ())
    split = max(1, round(plan.rows * 0.6))
    zones = (
        FocusZone(260.0, 124.0, math.inf, 1, split, ("sky", "far quay")),
        FocusZone(62.0, 49.1, 84.0, split + 1, plan.rows, ("mole", "near boats")),
    )
    trouble = AutofocusTrouble(
        "sky", 1, 1, "plain sky, nothing to focus on", "Focus by hand on the far quay and leave it."
    )
    return FocusFacts(zones, (trouble,))


def _exposure() -> ExposureFacts:
    return ExposureFacts(
        ev100=13.0,
        source="late sun from the side, light table",
        f_number=4.0,
        shutter_s=1 / 500,
        iso=100.0,
        av=4.0,
        tv=9.0,
        sv=5.0,
        bv=8.0,
        scene_range_ev=9.0,
        camera_range_ev=9.5,
        second_pass_ev=None,
        dials=tuple(
            Dial(setting, value, why)
            for setting, value, why in (
                ("mode", "manual", "every frame must be exposed alike, or neighbours show a step"),
                ("aperture", "f/4", "sharpest for this sensor, and deep enough"),
                ("shutter", "1/500 s", "follows from light, aperture and ISO"),
                ("ISO", "100, not auto", "the lowest is the cleanest"),
                ("white balance", "daylight", "automatic changes with what is in the frame"),
                ("focus", "manual", "autofocus hunts in plain sky"),
                ("flash", "off", "it lights only what is near, and slows the camera"),
                ("filters", "none", "a polariser darkens the sky unevenly over a wide view"),
                ("drive", "single", "one release, one frame: a burst fills the buffer"),
                ("quality", "finest JPEG, full size", "RAW too, if the card keeps up"),
                ("self-timer", "off", "lets the vibration of the release die"),
                ("stabiliser", "off on the tripod", "it drifts when nothing moves"),
                ("dark frame", "off", "takes as long as the exposure again"),
                ("review", "off", "costs battery, and on some cameras the next release"),
                ("power saving", "off", "a camera that falls asleep misses every later frame"),
            )
        ),
    )


def _timing(interval: float, release: tuple[float, ...]) -> TimingFacts:
    curve = tuple(
        RiskPoint(
            1.5 + 0.1 * step,
            1.0 / (1.0 + math.exp(3.2 * (0.1 * step - 0.55) * 2.1)),
            None if step % 3 else 1.0 / (1.04 + math.exp(3.2 * (0.1 * step - 0.55) * 2.1)),
        )
        for step in range(36)
    )
    return TimingFacts(
        parts=(
            CyclePart("exposure", 0.002),
            CyclePart("processing", 0.9),
            CyclePart("write", 0.33),
            CyclePart("move", 0.6),
            CyclePart("settle", 0.8),
        ),
        head_s=1.4,
        camera_s=1.3,
        interval_s=interval,
        recommended_interval_s=2.9,
        missing_frame_probability=0.0007,
        curve=curve,
        simulated_shoots=1000,
        duration_s=release[-1],
        release_s=release,
    )


def _light(plan: Plan, release: tuple[float, ...]) -> LightFacts:
    start = plan.shoot.conditions.start or START

    def sun(seconds: float) -> SunAt:
        return SunAt(
            start + timedelta(seconds=seconds), 262.0 + seconds / 240.0, 21.0 - seconds / 400.0
        )

    zero = plan.shoot.conditions.place.zero_bearing_deg if plan.shoot.conditions.place else None
    near = []
    for index, cell in enumerate(plan.cells):
        if zero is None:
            break
        at = sun(release[index])
        away = math.hypot(
            (at.azimuth_deg - zero - cell.bearing_deg) * math.cos(math.radians(at.elevation_deg)),
            at.elevation_deg - cell.elevation_deg,
        )
        if away < 0.8 * plan.horizontal_fov_deg:
            near.append(SunInCell(index, away, away < 0.5 * plan.horizontal_fov_deg))
    day = start.replace(hour=0, minute=0)
    return LightFacts(
        sun=tuple(sun(release[-1] * share / 8.0) for share in range(9)),
        events=(
            LightEvent(day + timedelta(hours=5, minutes=1), "sunrise"),
            LightEvent(day + timedelta(hours=20, minutes=12), "golden hour begins"),
            LightEvent(day + timedelta(hours=21, minutes=3), "sunset"),
            LightEvent(day + timedelta(hours=21, minutes=43), "blue hour ends"),
        ),
        phase="day",
        sun_cells=tuple(near),
        shadow_move_deg=0.15,
        shadow_move_m=0.07,
        brightness_drift_ev=-0.2,
        touching_drift_ev=0.03,
        best_starts=(
            StartChoice(day + timedelta(hours=18, minutes=30), 0.9, "low sun from the side"),
        ),
        moonless=(day + timedelta(hours=23, minutes=50), day + timedelta(hours=26, minutes=20)),
        moon_lit=0.31,
    )


def _sweep(plan: Plan, release: tuple[float, ...]) -> SweepFacts:
    place = {(cell.row, cell.column): index for index, cell in enumerate(plan.cells)}
    ages = []
    for index, cell in enumerate(plan.cells):
        touching = [
            place.get((cell.row + down, cell.column + across))
            for down, across in ((0, 1), (0, -1), (1, 0), (-1, 0))
        ]
        ages.append(
            max((abs(release[index] - release[t]) for t in touching if t is not None), default=0.0)
        )
    sweep = plan.shoot.sweep
    chosen = SweepChoice(
        sweep.order, sweep.start, sweep.serpentine, max(ages), sum(ages) / len(ages), 540.0
    )
    return SweepFacts(chosen, (chosen,), tuple(ages))


def day() -> Briefing:
    """Twelve by five frames on a clear afternoon."""
    return briefing_of(harbour_plan())


def sun_in_picture() -> Briefing:
    """The same with the sun in the upper left, and advice that stops and warns."""
    conditions = Conditions(place=replace(PLACE, zero_bearing_deg=290.0), start=START)
    plan = harbour_plan(edges=(-41.0, 41.0, 26.0, -13.0), conditions=conditions)
    return replace(briefing_of(plan), tripod_rows=(plan.rows,), advice=WARNINGS)


def night() -> Briefing:
    """A skyline after dark, without a bearing to north."""
    conditions = Conditions(
        place=replace(PLACE, zero_bearing_deg=None), start=START.replace(hour=23, minute=55)
    )
    plan = harbour_plan(
        "Saltmere by night",
        focal_mm=30.5,
        edges=(-30.0, 30.0, 9.0, -7.0),
        sweep=Sweep("columns", "bottom-left", True, 9.0),
        conditions=conditions,
    )
    briefing = briefing_of(plan)
    assert briefing.light is not None
    return replace(
        briefing,
        exposure=replace(briefing.exposure, ev100=3.0, shutter_s=2.0),
        light=replace(
            briefing.light, phase="night", sun=(), shadow_move_deg=None, shadow_move_m=None
        ),
    )


def full_turn() -> Briefing:
    """All the way round with fewer columns high up, and a cap at the zenith."""
    wish = GridWish(90.0, -50.0, None, None, 0.30, 0.30, full_turn=True, equal_columns=False)
    conditions = Conditions(
        place=PLACE, start=START, regions=(Region("roofs", 40.0, None, kind="detail"),)
    )
    shoot = Shoot(
        "The whole town from the tower",
        UPRIGHT,
        Lens(9.0),
        wish,
        Sweep(interval_s=4.0),
        conditions,
    )
    plan = make_plan(shoot)
    return replace(briefing_of(plan), tripod_rows=(plan.rows,))


def big() -> Briefing:
    """Thirty rows of sixty."""
    wish = GridWish(30.0, -16.0, -75.0, 75.0, 0.30, 0.30, rows=30, columns=60)
    where = Conditions(place=PLACE, start=START)
    shoot = Shoot("Saltmere and the bay", CAMERA, Lens(118.0), wish, Sweep(interval_s=3.0), where)
    return briefing_of(make_plan(shoot))


def portrait() -> Briefing:
    """Upright frames, a tall narrow view, by columns."""
    plan = harbour_plan(
        "Lighthouse, upright frames",
        camera=UPRIGHT,
        edges=(-9.0, 9.0, 42.0, -12.0),
        sweep=Sweep("columns", "top-left", False, 3.0),
    )
    return briefing_of(plan)


def bare() -> Briefing:
    """No place, no time, no distances, no title: what is not known is left out."""
    plan = harbour_plan("", conditions=Conditions(), sweep=Sweep())
    briefing = briefing_of(plan)
    return replace(
        briefing,
        wish=None,
        prints=(),
        focus=FocusFacts((), ()),
        power=PowerFacts(3.4, 2.1, 1.3, None, None, 0.0, None, None, ""),
        card=replace(briefing.card, free_bytes=None, cards=None),
        timing=replace(briefing.timing, curve=()),
        advice=(),
        assumed=(),
    )


def heavy() -> Briefing:
    """Everything at once: a long title full of signs, much advice, many zones."""
    title = (
        "Saltmere #1 *harbour* & <mole> at $5, _tide_ falling @dusk `raw` \\ [two] 🌅 "
        "with everything that floats, from the fish market to the lighthouse on the far mole"
    )
    conditions = Conditions(place=replace(PLACE, zero_bearing_deg=290.0), start=START)
    plan = harbour_plan(title, edges=(-41.0, 41.0, 26.0, -13.0), conditions=conditions)
    briefing = briefing_of(plan)
    zones = tuple(
        FocusZone(40.0 * row, 30.0 * row, 55.0 * row, row, row, ("near boats, nets and the crane",))
        for row in range(1, plan.rows + 1)
    )
    troubles = (
        *briefing.focus.troubles,
        AutofocusTrouble("water", 4, 6, "ripples without detail", "Pause, focus by hand, go on."),
        AutofocusTrouble("haze", 2, 3, "too little contrast", "Take the distance from the map."),
    )
    return replace(
        briefing,
        focus=FocusFacts(zones, troubles),
        tripod_rows=(plan.rows - 1, plan.rows),
        advice=(*WARNINGS, *WARNINGS, *(replace(a, severity="note") for a in WARNINGS)),
        assumed=tuple(f"assumption number {number} of the planner" for number in range(1, 13)),
    )


WARNINGS = (
    Advice(
        "stop",
        "The camera is not ready for the next frame at 1.8 s.",
        "Exposure, processing and write take 2.4 s on average, so 1 frame in 3 would not exist.",
        "Set the interval to 2.9 s; the sweep then takes 4 min 21 s.",
    ),
    Advice(
        "stop",
        "The sun stands in rows 1 and 2 during the sweep.",
        "Through this lens it blinds you and burns the sensor.",
        "Start at 20:40, when it is behind the hill, or lower the top edge to +15°.",
    ),
    Advice(
        "warn",
        "At f/11 diffraction eats a third of what this lens resolves.",
        "The Airy disc is 7.2 pixels wide.",
        "f/5.6 and 1/250 s is the same light.",
    ),
    Advice(
        "warn",
        "The tripod gets into row 7.",
        "Its feet reach up to -38° of elevation.",
        "Leave row 7 out, or take it again by hand from the side.",
    ),
)

VARIANTS: dict[str, Callable[[], Briefing]] = {
    "day": day,
    "sun": sun_in_picture,
    "night": night,
    "full-turn": full_turn,
    "big": big,
    "portrait": portrait,
    "bare": bare,
    "heavy": heavy,
}
