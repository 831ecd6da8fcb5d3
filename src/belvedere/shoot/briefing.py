"""What the planner answers: everything to decide before the head is powered, as numbers.

`brief` (in this room) fills these from a `Plan`; the command line, the JSON document and the
field sheet show them. Every number that rests on an assumption is named in `Briefing.assumed`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from belvedere.light import LightFacts
from belvedere.optics import SharpnessBudget
from belvedere.shoot.model import Plan

#: stop: the picture will not come out so; warn: it may not; note: worth knowing.
Severity = Literal["stop", "warn", "note"]


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing the planner says: what, why, and what to do (may be empty)."""

    severity: Severity
    says: str
    because: str
    try_: str = ""


@dataclass(frozen=True, slots=True)
class OpticsFacts:
    """Lens and sensor at the aperture and focus of the plan.

    `mm_per_px` at `mm_per_px_at_m`; both None where no distance is known. `parallax_mm`: how far
    the entrance pupil may be off the axis; None without a near and a far distance.
    """

    pixel_pitch_um: float
    crop_factor: float
    hfov_deg: float
    vfov_deg: float
    dfov_deg: float
    arcsec_per_px: float
    mm_per_px: float | None
    mm_per_px_at_m: float | None
    f_number: float
    circle_mm: float
    circle_rule: str
    focus_m: float
    hyperfocal_m: float
    near_m: float
    far_m: float
    airy_um: float
    airy_px: float
    mtf_at_nyquist: float
    sweet_spot_f_number: float
    sharpness: SharpnessBudget
    parallax_mm: float | None


@dataclass(frozen=True, slots=True)
class FocusZone:
    """One focus setting and the rows it serves (from the top, both ends included)."""

    focus_m: float
    near_m: float
    far_m: float
    first_row: int
    last_row: int
    regions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AutofocusTrouble:
    """Where autofocus will fail, in which rows, why, and what to do there."""

    region: str
    first_row: int
    last_row: int
    why: str
    do: str


@dataclass(frozen=True, slots=True)
class FocusFacts:
    """The focus zones from the top row down, and where autofocus will fail."""

    zones: tuple[FocusZone, ...]
    troubles: tuple[AutofocusTrouble, ...]


@dataclass(frozen=True, slots=True)
class Dial:
    """One thing to set on the camera, its value, why, and what that depends on."""

    setting: str
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class ExposureFacts:
    """Exposure in numbers and in settings to dial in."""

    ev100: float
    source: str
    f_number: float
    shutter_s: float
    iso: float
    av: float
    tv: float
    sv: float
    bv: float
    scene_range_ev: float | None
    camera_range_ev: float
    second_pass_ev: float | None
    dials: tuple[Dial, ...]


@dataclass(frozen=True, slots=True)
class CyclePart:
    """A reason for waiting and how long it takes on average."""

    reason: str
    seconds: float


@dataclass(frozen=True, slots=True)
class RiskPoint:
    """Probability that at least one frame of the shoot goes missing at an interval.

    `simulated` is the share of simulated shoots, None where none were run.
    """

    interval_s: float
    probability: float
    simulated: float | None


@dataclass(frozen=True, slots=True)
class TimingFacts:
    """The camera's and the head's cycle, the risk of the interval, and how long it all takes.

    `interval_s` is the one of the shoot file, or else the recommended one. `head_s` is what the
    head needs between two releases (exposure, move, settle), `camera_s` what the camera needs on
    average. `simulated_shoots`: how many were simulated for each point of the curve, None where
    none were. `release_s` holds seconds from the first release for each cell in sweep order.
    """

    parts: tuple[CyclePart, ...]
    head_s: float
    camera_s: float
    interval_s: float
    recommended_interval_s: float
    missing_frame_probability: float
    curve: tuple[RiskPoint, ...]
    simulated_shoots: int | None
    duration_s: float
    release_s: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class CardFacts:
    """Bytes of the shoot, on average and in an unlucky shoot (one in a hundred is larger)."""

    frames: int
    bytes: int
    bytes_high: int
    write_mb_s: float
    file_mb: float
    free_bytes: int | None
    cards: int | None
    rolls_over_at_frame: int | None


@dataclass(frozen=True, slots=True)
class PowerFacts:
    """Energy of head and camera, and what the packs hold at this temperature.

    `wh` is the sum. Frames until a swap are None where no pack is known.
    """

    wh: float
    head_wh: float
    camera_wh: float
    head_pack_wh: float | None
    camera_pack_wh: float | None
    margin: float
    head_swap_after_frames: int | None
    camera_swap_after_frames: int | None
    pack_says: str


@dataclass(frozen=True, slots=True)
class SweepChoice:
    """One way to visit the cells, and the greatest and mean age difference of touching cells."""

    order: str
    start: str
    serpentine: bool
    greatest_age_s: float
    mean_age_s: float
    moves_deg: float


@dataclass(frozen=True, slots=True)
class SweepFacts:
    """How old neighbours are to each other: for the plan's sweep and for the others.

    `cell_age_s`: for each cell in sweep order the greatest age difference to a touching cell.
    """

    chosen: SweepChoice
    choices: tuple[SweepChoice, ...]
    cell_age_s: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PrintSize:
    """How large the mosaic prints at a resolution.

    `viewing_distance_m` is where one pixel is one minute of arc.
    """

    dpi: float
    width_mm: float
    height_mm: float
    viewing_distance_m: float


@dataclass(frozen=True, slots=True)
class WishFacts:
    """The wish in words, what it needs, and what the plan reaches in the same unit."""

    says: str
    needs_focal_length_mm: float
    reached: bool
    reaches: str


@dataclass(frozen=True, slots=True)
class Briefing:
    """All of it. `light` is None where no place or no time is known."""

    plan: Plan
    wish: WishFacts | None
    prints: tuple[PrintSize, ...]
    optics: OpticsFacts
    focus: FocusFacts
    exposure: ExposureFacts
    timing: TimingFacts
    card: CardFacts
    power: PowerFacts
    light: LightFacts | None
    sweep: SweepFacts
    tripod_rows: tuple[int, ...]
    advice: tuple[Advice, ...]
    assumed: tuple[str, ...]
