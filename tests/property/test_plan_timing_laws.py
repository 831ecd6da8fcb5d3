"""Laws that hold for any camera, head and grid: an interval, a timetable, a risk."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from belvedere.shoot import Camera, Cell, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.shoot.conditions import CardWish, Conditions, Cycle, Head
from belvedere.shoot.missing_frames import BusyTimes, missing_frame_probability
from belvedere.shoot.missing_frames_trial import draw_times_s, lost_frames
from belvedere.shoot.timing import ACCEPTED_RISK, DIAL_STEP_S, release_times_s, timing_facts

spreads = st.one_of(st.just(0.0), st.floats(0.02, 0.6))


@st.composite
def cameras(draw: st.DrawFn, buffered: bool | None = None) -> BusyTimes:
    write_s = draw(st.floats(0.05, 5.0))
    has_buffer = draw(st.booleans()) if buffered is None else buffered
    return BusyTimes(
        fixed_s=draw(st.floats(0.05, 10.0)),
        processing_s=draw(st.floats(0.0, 2.0)),
        processing_spread=draw(spreads),
        write_s=write_s,
        write_spread=draw(spreads),
        stall_probability=draw(st.sampled_from([0.0, 0.01])),
        stall_s=draw(st.floats(0.5, 10.0)),
        buffer_s=write_s * draw(st.integers(1, 12)) if has_buffer else 0.0,
        scene_share=0.9 if has_buffer else 0.0,
        scene_memory=0.95 if has_buffer else 0.0,
    )


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    full_turn = draw(st.booleans())
    bottom = draw(st.floats(-60.0, 40.0))
    wish = GridWish(
        bottom + draw(st.floats(5.0, 40.0)),
        bottom,
        None if full_turn else -40.0,
        None if full_turn else draw(st.floats(-20.0, 60.0)),
        0.3,
        0.3,
        full_turn=full_turn,
        equal_columns=draw(st.booleans()),
    )
    sweep = Sweep(
        draw(st.sampled_from(["rows", "columns"])),
        draw(st.sampled_from(["top-left", "bottom-right"])),
        draw(st.booleans()),
        draw(st.one_of(st.none(), st.floats(0.5, 20.0))),
    )
    head = Head(
        pan_speed_deg_s=draw(st.floats(2.0, 60.0)),
        tilt_speed_deg_s=draw(st.floats(2.0, 60.0)),
        settle_s=draw(st.floats(0.0, 3.0)),
    )
    conditions = Conditions(
        head=head,
        cycle=Cycle(buffer_frames=draw(st.sampled_from([0, 0, 4]))),
        card=CardWish(write_mb_s=draw(st.floats(2.0, 60.0))),
    )
    camera = Camera(36.0, 24.0, 6000, 4000)
    return make_plan(Shoot("", camera, Lens(35.0), wish, sweep, conditions))


@given(cameras(), st.integers(2, 300))
@settings(max_examples=60)
def test_a_longer_interval_never_raises_the_risk(busy: BusyTimes, frames: int) -> None:
    intervals_s = (busy.fixed_s + busy.processing_s + busy.write_s) * np.linspace(0.4, 3.0, 9)
    risks = [missing_frame_probability(busy, np.full(frames - 1, t)) for t in intervals_s]
    assert all(0.0 <= risk <= 1.0 for risk in risks)
    assert all(later <= sooner + 1e-9 for sooner, later in pairwise(risks))


@given(cameras(buffered=True), st.floats(0.6, 2.0))
@settings(max_examples=40)
def test_the_closed_form_with_a_buffer_stays_below_that_without(
    busy: BusyTimes, share: float
) -> None:
    """A theorem: see the module. Without a buffer frames count as independent."""
    gaps_s = np.full(99, share * (busy.fixed_s + busy.processing_s + busy.write_s))
    without = replace(busy, buffer_s=0.0)
    assert missing_frame_probability(busy, gaps_s) <= missing_frame_probability(without, gaps_s) + (
        1e-6
    )


@given(cameras(), st.floats(0.5, 2.0), st.integers(0, 2**32 - 1))
@settings(max_examples=60)
def test_no_two_obeyed_releases_are_closer_than_the_camera_is_busy(
    busy: BusyTimes, share: float, seed: int
) -> None:
    """The simulated camera, looked at from outside: it never exposes while it is exposing."""
    interval_s = share * (busy.fixed_s + busy.processing_s + busy.write_s)
    release_s = np.arange(80) * interval_s
    before_s, write_s = draw_times_s(busy, 1, 80, np.random.default_rng(seed))
    lost = lost_frames(release_s, before_s[0], write_s[0], busy.buffer_s)
    taken = np.flatnonzero(~lost)
    assert taken[0] == 0
    assert (np.diff(release_s[taken]) >= before_s[0][taken[:-1]] - 1e-6).all()
    if busy.buffer_s == 0.0:
        needs_s = (before_s + write_s)[0][taken[:-1]]
        assert (np.diff(release_s[taken]) >= needs_s - 1e-6).all()


def _way_deg(before: Cell, after: Cell, full_turn: bool) -> tuple[float, float]:
    pan = abs(after.bearing_deg - before.bearing_deg)
    if full_turn:
        pan = min(pan % 360.0, 360.0 - pan % 360.0)
    return pan, abs(after.elevation_deg - before.elevation_deg)


@given(plans())
@settings(max_examples=60)
def test_the_timetable(plan: Plan) -> None:
    """No release before its interval is over, and each late one for a way that is long enough."""
    facts, _ = timing_facts(plan, 1 / 60)
    head = plan.shoot.conditions.head
    assert head.pan_speed_deg_s is not None
    assert head.tilt_speed_deg_s is not None
    assert len(facts.release_s) == len(plan.cells)
    assert facts.release_s[0] == 0.0
    assert facts.duration_s == facts.release_s[-1]
    assert tuple(release_times_s(plan, facts.interval_s)) == pytest.approx(facts.release_s)
    open_s = sum(p.seconds for p in facts.parts if p.reason in ("shutter lag", "exposure"))
    for (before, after), (start_s, end_s) in zip(
        pairwise(plan.cells), pairwise(facts.release_s), strict=True
    ):
        gap_s = end_s - start_s
        assert gap_s >= facts.interval_s - 1e-9
        pan, tilt = _way_deg(before, after, plan.shoot.grid.full_turn)
        turning_s = max(pan / head.pan_speed_deg_s, tilt / head.tilt_speed_deg_s)
        if facts.interval_s >= facts.head_s:
            # It stands still when the shutter opens, and has settled.
            assert gap_s >= open_s + turning_s + (head.settle_s or 0.0) - 1e-9
        assert gap_s <= facts.interval_s + turning_s + 0.2 + 1e-9


@given(plans())
@settings(max_examples=40)
def test_the_recommended_interval_is_the_shortest_on_the_dial(plan: Plan) -> None:
    free = replace(
        plan, shoot=replace(plan.shoot, sweep=replace(plan.shoot.sweep, interval_s=None))
    )
    facts, _ = timing_facts(free, 1 / 60)
    best = facts.recommended_interval_s
    assert facts.interval_s == best
    assert best % DIAL_STEP_S == 0.0
    assert best >= facts.head_s - 1e-6
    assert facts.missing_frame_probability <= ACCEPTED_RISK
    shorter_s = best - DIAL_STEP_S
    if shorter_s >= facts.head_s:
        shorter = replace(
            plan, shoot=replace(plan.shoot, sweep=replace(plan.shoot.sweep, interval_s=shorter_s))
        )
        assert timing_facts(shorter, 1 / 60)[0].missing_frame_probability > ACCEPTED_RISK


@given(plans())
@settings(max_examples=40)
def test_the_curve_leads_from_sure_loss_to_hardly_any(plan: Plan) -> None:
    facts, _ = timing_facts(plan, 1 / 60)
    points = facts.curve
    assert 12 <= len(points) <= 25
    assert all(a.interval_s < b.interval_s for a, b in pairwise(points))
    assert all(b.probability <= a.probability + 1e-9 for a, b in pairwise(points))
    assert {facts.interval_s, facts.recommended_interval_s} <= {p.interval_s for p in points}
    if len(plan.cells) > 1:
        assert points[0].probability > 0.9
        assert points[-1].probability < 1e-4
