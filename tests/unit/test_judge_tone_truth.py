"""Exposure and colour of sweeps whose truth is known: the guilty are named, nobody else is."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from belvedere.check.judge_pairs import Evidence, PairEvidence
from belvedere.check.judge_steps import judge_colour, judge_exposure
from belvedere.check.judge_tone import solve_tones
from belvedere.check.tone_walk import Between, Walk, standard_errors
from belvedere.measure import ToneDifference
from belvedere.shoot import Frame, Settings

#: Overlaps to the right, below, and across the corners.
_SIDES = ((0, 1), (1, 0), (1, 1), (1, -1))


@dataclass(frozen=True)
class Sweep:
    """A sweep by rows, turning back at the ends of rows or not, and what is true of its frames."""

    rows: int
    columns: int
    serpentine: bool
    ev: np.ndarray
    tint: np.ndarray

    def number(self, row: int, column: int) -> int:
        back = self.serpentine and row % 2 == 1
        return row * self.columns + (self.columns - 1 - column if back else column)


def steady(rows: int, columns: int, serpentine: bool = True) -> Sweep:
    count = rows * columns
    return Sweep(rows, columns, serpentine, np.zeros(count), np.zeros((count, 2)))


def pairs_of(
    sweep: Sweep, seed: int = 1, rough: float = 0.03, water_row: int = -1, sky_rows: int = 0
) -> list[PairEvidence]:
    """The overlaps as they are measured.

    `rough` is how much the samples of an overlap scatter. In `water_row` glitter misleads every
    overlap by itself; in the first `sky_rows` clouds sail on between two rows.
    """
    rng = np.random.default_rng(seed)
    pairs = []
    for row in range(sweep.rows):
        for column in range(sweep.columns):
            for down, right in _SIDES:
                if not (row + down < sweep.rows and 0 <= column + right < sweep.columns):
                    continue
                a, b = sweep.number(row, column), sweep.number(row + down, column + right)
                sky, water = row + down < sky_rows, water_row in (row, row + down)
                scatter = 6.0 * rough if water or (sky and down) else rough
                bias = rng.normal(0.0, 0.15, 3) if sky and down else np.zeros(3)
                bias = rng.normal(0.0, 0.08, 3) if water else bias
                ev = sweep.ev[b] - sweep.ev[a] + bias[0] + rng.normal(0.0, scatter, 80)
                tint = sweep.tint[b] - sweep.tint[a] + bias[1:]
                tints = tint + rng.normal(0.0, scatter, (80, 2))
                radius = np.full(80, 0.5)
                tone = ToneDifference(ev, tints, radius, radius, False)
                shift = np.array([700.0 * right, 500.0 * down])
                pairs.append(
                    PairEvidence(a, b, not sky, 0.5, shift, (0.3, 0.9), 0.1, 40, None, tone)
                )
    return pairs


def frames_of(sweep: Sweep, settings: list[Settings] | None = None) -> list[Frame]:
    settings = settings or [Settings()] * len(sweep.ev)
    return [
        Frame(f"PIC_{n:04d}.JPG", "", 0, 1200, 800, settings=one) for n, one in enumerate(settings)
    ]


def accused(sweep: Sweep, pairs: list[PairEvidence]) -> tuple[set[int], set[int]]:
    """Numbers of the frames accused of exposure and of colour."""
    frames, order = frames_of(sweep), np.arange(len(sweep.ev))
    tones = solve_tones(len(frames), pairs)
    exposure, _ = judge_exposure(frames, order, tones, Evidence(tuple(pairs), {}, {}, {}))
    colour, _ = judge_colour(frames, order, tones)
    named = [{int(one.file[4:8]) for one in found} for found in (exposure, colour)]
    return named[0], named[1]


def test_a_steady_shoot_over_glitter_and_clouds_accuses_nobody() -> None:
    for seed in range(6):
        sweep = steady(7, 12, serpentine=bool(seed % 2))
        assert accused(sweep, pairs_of(sweep, seed, water_row=6, sky_rows=2)) == (set(), set())


def test_dusk_is_nobodys_fault() -> None:
    dusk = np.linspace(0.0, -1.6, 84)
    sweep = replace(steady(7, 12), ev=dusk, tint=np.outer(dusk, [-0.05, 0.1]))
    assert accused(sweep, pairs_of(sweep, water_row=6)) == (set(), set())


def test_a_lens_with_a_colour_cast_on_one_side_makes_no_rows_differ() -> None:
    # Each row returns to its first column: what adds up along the row falls back there.
    sweep = steady(3, 13, serpentine=False)
    pairs = [
        replace(pair, tone=replace(pair.tone, tint=pair.tone.tint + 0.01 * pair.shift_px[0] / 700))
        for pair in pairs_of(sweep)
    ]
    assert accused(sweep, pairs)[1] == set()


def test_a_step_is_not_carried_over_to_other_rows() -> None:
    # Rows by rows without turning back, three rows of seven: white balance changes in the second.
    sweep = steady(3, 7, serpentine=False)
    sweep.tint[9:] = np.log([0.72, 1.39])
    assert accused(sweep, pairs_of(sweep))[1] == set(range(9))


def test_a_frame_that_glitters_into_another_colour_is_not_accused_and_not_the_rest() -> None:
    sweep = steady(6, 10)
    odd = sweep.number(5, 4)
    rng = np.random.default_rng(4)
    pairs = [
        replace(
            pair,
            tone=replace(
                pair.tone,
                tint=pair.tone.tint + rng.uniform(0.0, 0.35) + rng.normal(0, 0.2, (80, 2)),
            ),
        )
        if odd == pair.b
        else pair
        for pair in pairs_of(sweep)
    ]
    assert accused(sweep, pairs)[1] == set()


def test_a_shadow_that_comes_softly_and_goes_at_once_leaves_the_rest_as_it_was() -> None:
    """Half the sweep lies behind the shadow; it has the colour of the half before."""
    sweep = steady(5, 8)
    sweep.tint[16:21] = [-0.065, 0.12]
    sweep.tint[15] = [-0.037, 0.07]
    accused_of_colour = accused(sweep, pairs_of(sweep, rough=0.01))[1]
    assert accused_of_colour <= set(range(15, 21))


def test_what_hangs_by_uncertain_overlaps_must_depart_by_more() -> None:
    """A fifth of an EV in overlaps that err by a tenth each is no fault yet; half an EV is."""
    for size, guilty in ((0.22, set()), (0.9, {22})):
        sweep = steady(5, 9)
        sweep.ev[22] = size
        assert accused(sweep, pairs_of(sweep, 3, rough=0.45))[0] == guilty


def test_standard_errors_are_those_of_springs_in_a_row() -> None:
    """Errors of overlaps one after another add up as squares (Gauss)."""
    ends = np.array([[0, 1], [1, 2], [2, 3]])
    spread = np.array([0.03, 0.04, 0.12])
    between = Between(ends, np.zeros((3, 1)), spread, np.zeros((3, 2)))
    walk = Walk(
        np.zeros((4, 1)), np.zeros(3, dtype=bool), np.zeros((3, 1)), spread**-2.0, np.zeros(3)
    )
    contrast = np.array([[-1.0, 1.0, 0.0, 0.0], [-1.0, 0.0, 1.0, 0.0], [-1.0, 0.0, 0.0, 1.0]])
    errors = standard_errors(walk, between, contrast)
    np.testing.assert_allclose(errors, [0.03, 0.05, 0.13], rtol=1e-4)


@given(
    seed=st.integers(0, 10_000),
    rows=st.integers(3, 6),
    columns=st.integers(5, 12),
    serpentine=st.booleans(),
    size=st.floats(0.33, 1.2),
    sign=st.sampled_from([-1.0, 1.0]),
    length=st.sampled_from([1, 1, 2, 5]),
    data=st.data(),
)
def test_frames_a_third_of_a_stop_off_are_named_and_no_others(
    seed: int,
    rows: int,
    columns: int,
    serpentine: bool,
    size: float,
    sign: float,
    length: int,
    data: st.DataObject,
) -> None:
    """A third of a stop is the smallest click of an exposure dial (common practice)."""
    sweep = steady(rows, columns, serpentine)
    first = data.draw(st.integers(0, rows * columns - length))
    guilty = set(range(first, first + length))
    sweep.ev[list(guilty)] = sign * size
    drift = np.linspace(0.0, 0.3 * sign, rows * columns)
    drifting = replace(sweep, ev=sweep.ev + drift)
    assert accused(drifting, pairs_of(drifting, seed)) == (guilty, set())


@given(
    seed=st.integers(0, 10_000),
    gains=st.sampled_from([(0.85, 1.17), (1.17, 0.85), (1.13, 1.13), (0.87, 0.87)]),
    data=st.data(),
)
def test_frames_of_another_white_balance_are_named_and_no_others(
    seed: int, gains: tuple[float, float], data: st.DataObject
) -> None:
    sweep = steady(5, 9)
    guilty = data.draw(st.integers(0, 44))
    sweep.tint[guilty] = np.log(gains)
    assert accused(sweep, pairs_of(sweep, seed)) == (set(), {guilty})


def test_what_the_settings_state_is_believed_where_nothing_else_tells() -> None:
    """Six stops of EV are six doublings of the time (ISO 12232 counts exposure so, from memory)."""
    sweep = steady(4, 6)
    sweep.ev[10] = -1.0
    frames = frames_of(
        sweep,
        [
            Settings(
                exposure_time_s=1 / 1000 if n == 10 else 1 / 500,
                f_number=8.0,
                iso=100.0,
                exposure_mode="manual",
            )
            for n in range(24)
        ],
    )
    # Clouds everywhere: no overlap is registered, all scatter.
    pairs = pairs_of(sweep, rough=0.2, sky_rows=4)
    tones = solve_tones(24, pairs)
    found, _ = judge_exposure(frames, np.arange(24), tones, Evidence(tuple(pairs), {}, {}, {}))
    assert [one.file for one in found] == ["PIC_0010.JPG"]
    assert "1/1000 s f/8 ISO 100 against 1/500 s f/8 ISO 100" in found[0].says
