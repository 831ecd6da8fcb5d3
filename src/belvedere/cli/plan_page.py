"""A briefing on the terminal: what will not work first, then the numbers, by subject."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta

from rich.console import Console
from rich.table import Table
from rich.text import Text

from belvedere.foundation import distance_words, duration_words
from belvedere.light import LightFacts
from belvedere.optics import f_number_words
from belvedere.shoot import CAUTIONS, Advice, Briefing, Cell, Plan
from belvedere.workflows.plan_document import NO_LIGHT, cells_by_row, gigapixels

#: Widest line, so that it also fits a narrow terminal or a printed page.
_WIDTH = 78
_SUBJECT_WIDTH = 18
#: Rows of the grid listed; the rest is in the JSON and on the sheet.
_MOST_ROWS = 12

#: Hours of the day told of on either side of the shoot.
_EVENTS_BEFORE, _EVENTS_AFTER = timedelta(hours=3), timedelta(hours=6)

_MARKS = {"stop": ("Will not work: ", "bold red"), "warn": ("Mind: ", "bold yellow")}
Fact = tuple[str, str]


def print_briefing(out: Console, briefing: Briefing) -> None:
    """The whole answer."""
    width = min(out.width, _WIDTH)
    out.print(Text(briefing.plan.shoot.title or "Untitled shoot", style="bold"), width=width)
    out.print()
    urgent = [said for said in briefing.advice if said.severity != "note"]
    for said in urgent:
        out.print(_advice(said), width=width)
    if urgent:
        out.print()
    for subject, facts in _subjects(briefing):
        out.print(Text(subject, style="bold"), width=width)
        out.print(_facts(facts), width=width)
        out.print()
    out.print(_rows(briefing.plan), width=width)
    out.print()
    for said in briefing.advice:
        if said.severity == "note":
            out.print(_advice(said), width=width)
    if briefing.assumed:
        heading = ("Assumed, as the shoot file does not say: ", "bold")
        out.print(Text.assemble(heading, "; ".join(briefing.assumed), "."), width=width)
    out.print()
    for caution in CAUTIONS:
        subject, _, says = caution.partition(": ")
        out.print(Text.assemble((f"{subject}: ", "bold"), says), width=width)


def _advice(said: Advice) -> Text:
    mark, style = _MARKS.get(said.severity, ("Note: ", "bold"))
    because = f" Why: {said.because}." if said.because else ""
    return Text.assemble((mark, style), said.says, (because, "dim"), f" {said.try_}".rstrip())


def _facts(facts: list[Fact]) -> Table:
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim", no_wrap=True, min_width=_SUBJECT_WIDTH)
    table.add_column()
    for heading, says in facts:
        table.add_row(heading, Text(says))
    return table


def _subjects(briefing: Briefing) -> Iterator[tuple[str, list[Fact]]]:
    yield "The picture", _picture(briefing)
    yield "The grid", _grid(briefing)
    yield "Sharpness and focus", _sharpness(briefing)
    yield "Settings", _settings(briefing)
    yield "Time", _time(briefing)
    yield "Card and batteries", _supplies(briefing)
    yield "Light", _light(briefing)


def _picture(briefing: Briefing) -> list[Fact]:
    plan, optics = briefing.plan, briefing.optics
    camera = plan.shoot.camera
    facts = []
    if briefing.wish is not None:
        reached = "reached" if briefing.wish.reached else "not reached"
        facts.append(("Wish", f"{briefing.wish.says}: {reached}; {briefing.wish.reaches}"))
    facts += [
        (
            "Camera and lens",
            f"{camera.sensor_width_mm:.4g} × {camera.sensor_height_mm:.4g} mm, "
            f"{camera.image_width_px} × {camera.image_height_px} px of "
            f"{optics.pixel_pitch_um:.2f} µm, {plan.shoot.lens.focal_length_mm:.4g} mm "
            f"(crop factor {optics.crop_factor:.2f})",
        ),
        (
            "Field of view",
            f"{optics.hfov_deg:.2f}° × {optics.vfov_deg:.2f}°, diagonal {optics.dfov_deg:.2f}°",
        ),
        ("Wanted", f"{_bearings(plan)}, elevation {_edges(plan)}"),
        (
            "Mosaic",
            f"{plan.mosaic_width_px:,} × {plan.mosaic_height_px:,} px = "
            f"{_pixels(gigapixels(plan))}",
        ),
        ("Scale", _scale(briefing)),
        ("Prints", _prints(briefing)),
    ]
    return facts


def _scale(briefing: Briefing) -> str:
    plan, optics = briefing.plan, briefing.optics
    says = (
        f"{plan.scale_px_per_deg:.1f} px per degree ({optics.arcsec_per_px:.2f} seconds of arc "
        "per pixel)"
    )
    if optics.mm_per_px is None or optics.mm_per_px_at_m is None:
        return says
    return f"{says}; {optics.mm_per_px:.3g} mm per pixel at {distance_words(optics.mm_per_px_at_m)}"


def _prints(briefing: Briefing) -> str:
    return "; ".join(
        f"{size.width_mm / 1e3:.2f} × {size.height_mm / 1e3:.2f} m at {size.dpi:.0f} dpi"
        for size in briefing.prints[:3]
    )


def _grid(briefing: Briefing) -> list[Fact]:
    plan = briefing.plan
    chosen = briefing.sweep.chosen
    way = "there and back" if chosen.serpentine else "each the same way"
    facts = [
        ("Overlap", f"{_asked(plan)} asked; {_real_overlap(plan)}"),
        ("Grid", f"{_grid_words(plan)} = {_count(len(plan.cells), 'frame')}"),
        ("Steps of the head", _steps(plan)),
        ("Sweep", f"by {chosen.order} from {chosen.start}, {way}"),
        (
            "Age of neighbours",
            f"touching frames are up to {duration_words(chosen.greatest_age_s)} apart, "
            f"{duration_words(chosen.mean_age_s)} on average",
        ),
    ]
    if briefing.tripod_rows:
        facts.append(("Tripod", f"in the picture in row {_range(briefing.tripod_rows)}"))
    return facts


def _sharpness(briefing: Briefing) -> list[Fact]:
    optics, budget = briefing.optics, briefing.optics.sharpness
    facts = [
        (
            "Diffraction",
            f"Airy disc {optics.airy_um:.2f} µm = {optics.airy_px:.1f} px at "
            f"{f_number_words(optics.f_number)}; contrast at Nyquist {optics.mtf_at_nyquist:.0%}; "
            f"sweet spot {f_number_words(optics.sweet_spot_f_number)}",
        ),
        (
            "Blur at worst",
            f"{budget.combined_px:.2f} px = pixel {budget.pixel_px:.2f}, diffraction "
            f"{budget.diffraction_px:.2f}, defocus {budget.defocus_px:.2f}, motion "
            f"{budget.motion_px:.2f}, in quadrature",
        ),
        (
            "Depth of field",
            f"hyperfocal {distance_words(optics.hyperfocal_m)}; focused at "
            f"{distance_words(optics.focus_m)} sharp "
            f"from {distance_words(optics.near_m)} to {distance_words(optics.far_m)} "
            f"(circle {optics.circle_mm * 1e3:.2f} µm: {optics.circle_rule})",
        ),
    ]
    for zone in briefing.focus.zones if len(briefing.focus.zones) > 1 else ():
        rows = _range(range(zone.first_row, zone.last_row + 1))
        facts.append(
            (
                f"Focus, row {rows}",
                f"{distance_words(zone.focus_m)}: sharp from {distance_words(zone.near_m)} to "
                f"{distance_words(zone.far_m)} ({', '.join(zone.regions)})",
            )
        )
    if optics.parallax_mm is not None and math.isfinite(optics.parallax_mm):
        facts.append(("Entrance pupil", f"within {optics.parallax_mm:.3g} mm of the head's axis"))
    return facts


def _settings(briefing: Briefing) -> list[Fact]:
    exposure = briefing.exposure
    light = f"EV {exposure.ev100:.1f} at ISO 100 ({exposure.source})"
    apex = (
        f"Av {_apex(exposure.av)} + Tv {_apex(exposure.tv)} = Bv {_apex(exposure.bv)} + "
        f"Sv {_apex(exposure.sv)}"
    )
    facts = [("Light", f"{light}; {apex}")]
    if exposure.scene_range_ev is not None:
        facts.append(
            (
                "Range",
                f"scene {exposure.scene_range_ev:.1f} EV, camera {exposure.camera_range_ev:.1f} EV",
            )
        )
    return facts + [
        (dial.setting[:1].upper() + dial.setting[1:], f"{dial.value}: {dial.why}")
        for dial in exposure.dials
    ]


def _time(briefing: Briefing) -> list[Fact]:
    timing = briefing.timing
    parts = ", ".join(f"{part.reason} {part.seconds:.2g} s" for part in timing.parts)
    given = briefing.plan.shoot.sweep.interval_s is not None
    return [
        ("Cycle", parts),
        (
            "Needed",
            f"between releases the head needs {timing.head_s:.1f} s, the camera "
            f"{timing.camera_s:.1f} s on average",
        ),
        (
            "Interval",
            f"{timing.interval_s:g} s{'' if given else ', the shortest that is safe'}; "
            f"recommended {timing.recommended_interval_s:g} s",
        ),
        (
            "Missing frames",
            f"at least one in {_shoots(timing.missing_frame_probability)}",
        ),
        (
            "Duration",
            f"{duration_words(timing.duration_s)} at one frame every {timing.interval_s:g} s"
            f"{_from_to(briefing)}",
        ),
    ]


def _from_to(briefing: Briefing) -> str:
    start = briefing.plan.shoot.conditions.start
    if start is None:
        return ""
    end = start + timedelta(seconds=briefing.timing.duration_s)
    return f", {start:%H:%M} to {end:%H:%M}"


def _supplies(briefing: Briefing) -> list[Fact]:
    card, power = briefing.card, briefing.power
    facts = [
        (
            "Card",
            f"{card.bytes / 1e9:.2f} GB, up to {card.bytes_high / 1e9:.2f} GB; "
            f"{card.file_mb:.1f} MB a frame, {card.write_mb_s:g} MB/s",
        ),
        (
            "Energy",
            f"{power.wh:.1f} Wh: head {power.head_wh:.1f}, camera {power.camera_wh:.1f}",
        ),
    ]
    if power.pack_says:
        facts.append(("Pack", power.pack_says))
    return facts


def _light(briefing: Briefing) -> list[Fact]:
    light = briefing.light
    if light is None:
        return [("", NO_LIGHT[:1].upper() + NO_LIGHT[1:])]
    first, last = light.sun[0], light.sun[-1]
    facts = [
        (
            "Sun",
            f"{light.phase}; from azimuth {first.azimuth_deg:.1f}°, elevation "
            f"{first.elevation_deg:+.1f}° to {last.azimuth_deg:.1f}°, {last.elevation_deg:+.1f}°",
        ),
        ("Around it", _events(light)),
        (
            "Daylight",
            f"{light.brightness_drift_ev:+.2f} EV over the shoot, {light.touching_drift_ev:.2f} "
            "EV between neighbours",
        ),
    ]
    if light.shadow_move_deg is not None:
        tip = "" if light.shadow_move_m is None else f", {light.shadow_move_m:.2g} m at a mast"
        facts.append(("Shadows", f"turn {light.shadow_move_deg:.2f}° between neighbours{tip}"))
    facts += [("Good start", f"{best.at:%H:%M}: {best.says}") for best in light.best_starts[:2]]
    if light.moonless is not None:
        begin, end = light.moonless
        facts.append(("Dark, no moon", f"{begin:%H:%M} to {end:%H:%M}"))
    return facts


def _events(light: LightFacts) -> str:
    """What the hours before and after the shoot bring."""
    begin, end = light.sun[0].at - _EVENTS_BEFORE, light.sun[-1].at + _EVENTS_AFTER
    near = [event for event in light.events if begin <= event.at <= end]
    return ", ".join(f"{event.name} {event.at:%H:%M}" for event in near) or "nothing"


def _rows(plan: Plan) -> Table:
    table = Table(box=None, padding=(0, 2), header_style="bold", pad_edge=False)
    for heading in ("row", "elevation", "columns", "step", "first bearing", "last bearing"):
        table.add_column(heading, justify="right", no_wrap=True)
    rows = cells_by_row(plan)
    for cells in rows[:_MOST_ROWS]:
        table.add_row(*_row(plan, cells))
    if len(rows) > _MOST_ROWS:
        table.add_row("…", "", "", "", "", f"{len(rows) - _MOST_ROWS} more rows")
    return table


def _row(plan: Plan, cells: list[Cell]) -> tuple[str, ...]:
    step = plan.column_steps_deg[cells[0].row - 1]
    return (
        str(cells[0].row),
        f"{cells[0].elevation_deg:+.2f}°",
        str(len(cells)),
        f"{step:.2f}°" if len(cells) > 1 else "",
        f"{cells[0].bearing_deg:+.2f}°",
        f"{cells[-1].bearing_deg:+.2f}°",
    )


def _bearings(plan: Plan) -> str:
    grid = plan.shoot.grid
    if grid.left_deg is None or grid.right_deg is None:
        return "full turn"
    return f"bearing {grid.left_deg:+g}° to {grid.right_deg:+g}°"


def _edges(plan: Plan) -> str:
    return f"{plan.shoot.grid.bottom_deg:+g}° to {plan.shoot.grid.top_deg:+g}°"


def _asked(plan: Plan) -> str:
    across, down = plan.shoot.grid.overlap_across, plan.shoot.grid.overlap_down
    return f"{across:.0%}" if across == down else f"{across:.0%} across and {down:.0%} down"


def _real_overlap(plan: Plan) -> str:
    across = f"{plan.overlap_across:.1%} across" if max(plan.columns_per_row) > 1 else ""
    down = f"{plan.overlap_down:.1%} down" if plan.rows > 1 else ""
    real = " and ".join(part for part in (across, down) if part)
    return f"at least {real}" if real else "one frame has no neighbour"


def _grid_words(plan: Plan) -> str:
    fewest, most = min(plan.columns_per_row), max(plan.columns_per_row)
    columns = _count(most, "column") if fewest == most else f"{fewest} to {most} columns"
    return f"{_count(plan.rows, 'row')} × {columns}"


def _steps(plan: Plan) -> str:
    steps = [
        step for step, n in zip(plan.column_steps_deg, plan.columns_per_row, strict=True) if n > 1
    ]
    parts = []
    if steps:
        low, high = f"{min(steps):.2f}°", f"{max(steps):.2f}°"
        parts.append(f"{low} across" if low == high else f"{low} to {high} across")
    if plan.rows > 1:
        parts.append(f"{plan.row_step_deg:.2f}° down")
    return ", ".join(parts) or "none"


def _apex(value: float) -> str:
    return f"{round(value, 2) + 0.0:.2f}"  # + 0.0: no minus before a zero


def _range(rows: tuple[int, ...] | range) -> str:
    return f"{rows[0]}" if len(rows) == 1 else f"{rows[0]} to {rows[-1]}"


def _shoots(share: float) -> str:
    if share < 1e-6:
        return "practically no such shoot"
    if share > 0.9999:
        return "practically every such shoot"
    return f"{share * 100:.2g} % of such shoots"


def _pixels(gigapixels: float) -> str:
    return f"{gigapixels:.2f} gigapixels" if gigapixels >= 1.0 else f"{gigapixels * 1e3:.1f} MP"


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
