"""Card and power by worked examples.

Speed classes: the SD Association's minimum sequential rates (read from secondary pages). NiMH
voltages: makers' pages and a cell data sheet of 2005. File numbers: DCF, JEITA CP-3461 (from
memory). What is common practice says so.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.shoot.briefing import TimingFacts
from belvedere.shoot.card import card_facts, class_rate_mb_s, rolls_over_at_frame
from belvedere.shoot.conditions import CardWish, Conditions, Cycle, Power
from belvedere.shoot.power import pack_says, power_facts, usable_share
from belvedere.shoot.timing import camera_cycle, timing_facts

COMPACT = Camera(7.44, 5.58, 3648, 2736)


def _plan(rows: int, columns: int, interval_s: float = 3.0) -> Plan:
    top, right = 4.0 * rows, min(60.0, 5.0 * columns)
    wish = GridWish(top, -top, -right, right, 0.2, 0.2, rows=rows, columns=columns)
    return make_plan(
        Shoot("", COMPACT, Lens(30.5), wish, Sweep(interval_s=interval_s), Conditions())
    )


CLASSES = [
    *((f"C{n}", n) for n in (2, 4, 6, 10)),
    ("U1", 10),
    ("U3", 30),
    *((f"V{n}", n) for n in (6, 10, 30, 60, 90)),
]


@pytest.mark.parametrize(("name", "rate"), CLASSES)
def test_what_a_speed_class_promises(name: str, rate: float) -> None:
    assert class_rate_mb_s(name) == rate
    assert class_rate_mb_s(name.lower()) == rate


@pytest.mark.parametrize(
    ("file_mb", "speed_class", "write_s"), [(4.5, "C10", 0.45), (24.0, "V30", 0.80)]
)
def test_a_file_at_the_rate_of_its_class(file_mb: float, speed_class: str, write_s: float) -> None:
    card = CardWish(file_mb=file_mb, speed_class=speed_class)
    busy, _, said = camera_cycle(COMPACT, Cycle(), card, 1 / 250)
    assert busy.write_s == pytest.approx(write_s)
    assert any("single files may be slower" in line for line in said)


def test_five_hundred_frames_of_four_and_a_half_megabytes() -> None:
    facts, _ = card_facts(_plan(10, 50), CardWish(file_mb=4.5))
    assert (facts.frames, facts.bytes) == (500, 2_250_000_000)


@pytest.mark.parametrize(("rows", "columns"), [(5, 20), (1, 40), (12, 8)])
def test_one_shoot_in_a_hundred_is_larger(rows: int, columns: int) -> None:
    """Against shoots drawn from a field whose correlation falls along rows and down columns.

    The field is drawn by Cholesky factors of its covariance, the sum is taken of what was drawn.
    4 standard deviations of a binomial, and a third for the sum's not being quite log-normal.
    """
    shoots, spread, mean_mb = 20_000, 0.4, 4.0
    facts, _ = card_facts(_plan(rows, columns), CardWish(file_mb=mean_mb, file_spread=spread))
    rng = np.random.default_rng(6)

    def factor(count: int, memory: float) -> np.ndarray:
        steps = np.arange(count)
        return np.linalg.cholesky(memory ** np.abs(steps[:, None] - steps))

    scene = rng.standard_normal((shoots, rows, columns))
    scene = factor(rows, 0.6) @ scene @ factor(columns, 0.95).T
    own = rng.standard_normal((shoots, rows, columns))
    log_size = spread * (math.sqrt(0.9) * scene + math.sqrt(0.1) * own) - spread**2 / 2.0
    total = (mean_mb * 1e6 * np.exp(log_size)).sum(axis=(1, 2))
    assert facts.bytes == pytest.approx(total.mean(), rel=0.01)
    larger = (total > facts.bytes_high).mean()
    assert larger == pytest.approx(0.01, abs=0.01 / 3.0 + 4.0 * math.sqrt(0.01 * 0.99 / shoots))


def test_sizes_that_were_independent_would_promise_too_little() -> None:
    facts, _ = card_facts(_plan(5, 20), CardWish(file_mb=4.0, file_spread=0.25))
    independent = 1.0 + 2.326 * math.sqrt(math.expm1(0.25**2) / 100)
    assert facts.bytes_high / facts.bytes > 1.0 + 2.0 * (independent - 1.0)


#: Next number, frames, first frame numbered 0001.
NUMBERS = [(9990, 20, 11), (9999, 2, 2), (9999, 1, None), (9901, 99, None), (9901, 100, 100)]


@pytest.mark.parametrize(
    ("number", "frames", "at"), [*NUMBERS, (1, 9999, None), (1, 10_000, 10_000)]
)
def test_file_numbers_go_from_9999_to_0001(number: int, frames: int, at: int | None) -> None:
    counted = [(number - 1 + place) % 9999 + 1 for place in range(frames)]
    first = next((place for place in range(1, frames) if counted[place] == 1), None)
    assert at == (None if first is None else first + 1)  # the table, counted out
    assert rolls_over_at_frame(frames, number) == at


def _timing(plan: Plan) -> TimingFacts:
    return timing_facts(plan, 1 / 250)[0]


def test_energy_on_paper() -> None:
    """One row of 11 frames 10 s apart: 100 s and the last frame's 1.1 s, ten moves of one step."""
    plan = _plan(1, 11, interval_s=10.0)
    timing = _timing(plan)
    power = Power(
        head_idle_w=2.0, head_moving_w=6.0, camera_on_w=1.5, camera_frame_j=4.0, head_pack_v=7.2,
        head_pack_ah=2.0, camera_pack_wh=4.0,
    )  # fmt: skip
    facts, said = power_facts(plan, timing, power)
    lasting_s = 100.0 + timing.camera_s
    moving_s = 10 * (plan.column_steps_deg[0] / 15.0 + 0.2)
    assert facts.head_wh == pytest.approx((2.0 * lasting_s + 4.0 * moving_s) / 3600.0)
    assert facts.camera_wh == pytest.approx((1.5 * lasting_s + 4.0 * 11) / 3600.0)
    assert facts.wh == pytest.approx(facts.head_wh + facts.camera_wh)
    assert facts.head_pack_wh == pytest.approx(14.4)
    assert facts.camera_pack_wh == pytest.approx(4.0)
    assert facts.head_swap_after_frames == int(0.75 * 14.4 * 11 / facts.head_wh)
    assert facts.camera_swap_after_frames == int(0.75 * 4.0 * 11 / facts.camera_wh)
    assert said == ()


def test_a_camera_pack_lasts_as_long_as_its_maker_says() -> None:
    """CIPA DC-002: one frame each 30 s, screen on. Compacts of 4 Wh are rated 200 to 400 frames.

    The rating's range is from memory; the standard also fires a flash at every second frame and
    moves the zoom, which our planner does not.
    """
    plan = _plan(1, 40, interval_s=30.0)
    facts, _ = power_facts(plan, _timing(plan), Power(camera_pack_wh=4.0))
    rated = facts.camera_swap_after_frames
    assert rated is not None
    assert 200 <= rated / (1.0 - facts.margin) <= 400


#: Common practice, no source: in frost a fifth to a third is gone, at -20 °C about half.
@pytest.mark.parametrize(
    ("temperature_c", "low", "high"), [(25, 1, 1), (20, 1, 1), (0, 0.7, 0.9), (-20, 0.35, 0.65)]
)
def test_cold(temperature_c: float, low: float, high: float) -> None:
    assert low <= usable_share(temperature_c) <= high


def test_a_pack_of_six_cells() -> None:
    """6 NiMH cells: 7.2 V nominal, 8.4 to 8.7 V full at rest, empty at 6.0 V."""
    for power in (
        Power(head_cells=6),
        Power(head_pack_v=7.2),
        Power(head_pack_v=7.2, head_cells=6),
    ):
        says = pack_says(power)
        for words in ("6 NiMH cells", "8.4–8.7 V", "nominal 7.2 V", "empty at 6.0 V"):
            assert words in says


#: 7.0 V is 1.167 V a cell: just below the plateau under load, nearly flat at rest.
SIX_CELLS = [
    ("load", 7.4, "go on"),
    ("load", 7.0, "finish the row and swap"),
    ("load", 6.4, "swap now"),
    ("load", 5.9, "empty"),
    ("rest", 8.6, "full"),
    ("rest", 8.0, "partly used"),
    ("rest", 7.3, "much used"),
    ("rest", 7.0, "nearly flat"),
    ("rest", 5.8, "empty"),
]


@pytest.mark.parametrize(("state", "volts", "words"), SIX_CELLS)
def test_what_a_reading_of_six_cells_means(state: str, volts: float, words: str) -> None:
    reading = {f"head_{state}_v": volts}
    says = pack_says(Power(head_cells=6, **reading))  # type: ignore[arg-type]
    read = {"load": "under load", "rest": "at rest"}[state]
    assert words in says.split(f"{volts:.1f} V {read}: ")[1]


PACKS = [
    (3.7, None, "1 Li-ion cell:"),
    (7.2, 2, "2 Li-ion"),
    (7.4, None, "2 Li-ion cells"),
    (9.6, None, "8 NiMH"),
    (11.1, 3, "3 Li-ion"),
    (14.4, 12, "12 NiMH"),
    (14.8, None, "4 Li-ion"),
]


@pytest.mark.parametrize(("volts", "cells", "words"), PACKS)
def test_which_cells_a_pack_is_made_of(volts: float, cells: int | None, words: str) -> None:
    """Nominal voltages of packs as they are sold: common practice, no source."""
    assert words in pack_says(Power(head_pack_v=volts, head_cells=cells))
