"""Card and power where the shoot file is silent, or wrong."""

from __future__ import annotations

import pytest

from belvedere.foundation import PlanError
from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.shoot.card import card_facts, write_rate_mb_s
from belvedere.shoot.conditions import CardWish, Power
from belvedere.shoot.power import pack_says, power_facts, usable_share
from belvedere.shoot.timing import timing_facts


def _plan() -> Plan:
    """100 frames of 10 megapixels."""
    wish = GridWish(12.0, -12.0, -60.0, 60.0, 0.2, 0.2, rows=5, columns=20)
    camera = Camera(7.44, 5.58, 3648, 2736)
    return make_plan(Shoot("", camera, Lens(30.5), wish, Sweep(interval_s=3.0)))


def test_an_unknown_file_size_is_assumed_and_leaves_more_room() -> None:
    guessed, said = card_facts(_plan(), CardWish())
    known, _ = card_facts(_plan(), CardWish(file_mb=guessed.file_mb))
    assert guessed.bytes == known.bytes == pytest.approx(400e6, rel=0.01)
    assert guessed.bytes_high > 1.15 * known.bytes_high
    assert sum("0.4 MB per megapixel, 4.0 MB a file" in line for line in said) == 1


def test_a_measured_rate_comes_before_a_class_and_a_class_before_the_usual() -> None:
    measured = CardWish(write_mb_s=7.0, speed_class="V30")
    assert write_rate_mb_s(measured) == (7.0, ())
    assert write_rate_mb_s(CardWish(speed_class="V30"))[0] == 30.0
    assert write_rate_mb_s(CardWish())[0] == 10.0


def test_cards() -> None:
    """0.4 GB on average, a little under 0.5 in an unlucky shoot."""
    wish = {"file_mb": 4.0, "file_spread": 0.1}
    for card, cards in (
        (CardWish(**wish), None),
        (CardWish(**wish, capacity_gb=8.0), 1),
        (CardWish(**wish, free_gb=2.0), 1),
        (CardWish(**wish, free_gb=0.25, capacity_gb=0.1), 4),
        (CardWish(**wish, free_gb=0.0, capacity_gb=8.0), 2),
        (CardWish(**wish, free_gb=0.0), None),
    ):
        assert card_facts(_plan(), card)[0].cards == cards, card
    assert card_facts(_plan(), CardWish(free_gb=2.0))[0].free_bytes == 2_000_000_000


def test_a_shoot_without_spread_needs_what_it_needs() -> None:
    facts, _ = card_facts(_plan(), CardWish(file_mb=4.0, file_spread=0.0))
    assert facts.bytes_high == facts.bytes == 400_000_000


def test_an_unknown_class_is_answered_with_the_known_ones() -> None:
    with pytest.raises(
        PlanError, match=r'"V31" in \[card\] is no speed class\. Did you mean V30\?'
    ):
        write_rate_mb_s(CardWish(speed_class="V31"))


@pytest.mark.parametrize("number", [0, -3, 10_000])
def test_a_file_number_that_no_camera_writes_is_refused(number: int) -> None:
    with pytest.raises(PlanError, match="next_file_number"):
        card_facts(_plan(), CardWish(next_file_number=number))


def test_cold_leaves_fewer_frames_and_says_so() -> None:
    plan = _plan()
    timing, _ = timing_facts(plan, 1 / 250)
    packs = {"head_pack_v": 7.2, "head_pack_ah": 2.0, "camera_pack_wh": 4.0}
    warm, warm_said = power_facts(plan, timing, Power(**packs))
    cold, cold_said = power_facts(plan, timing, Power(**packs, temperature_c=-10.0))
    assert warm.wh == cold.wh
    for frames_warm, frames_cold in (
        (warm.head_swap_after_frames, cold.head_swap_after_frames),
        (warm.camera_swap_after_frames, cold.camera_swap_after_frames),
    ):
        assert frames_warm is not None
        assert frames_cold is not None
        assert frames_cold == pytest.approx(0.65 * frames_warm, abs=1.0)
    assert set(cold_said) - set(warm_said) == {
        "at -10 °C a pack gives about 65% of what is printed on it (common practice); warm spares "
        "in a pocket give more"
    }


def test_without_packs_there_is_no_swap() -> None:
    plan = _plan()
    facts, said = power_facts(plan, timing_facts(plan, 1 / 250)[0], Power())
    assert facts.head_pack_wh is facts.camera_pack_wh is None
    assert facts.head_swap_after_frames is facts.camera_swap_after_frames is None
    assert facts.wh > 0.0
    assert "No pack is known" in facts.pack_says
    assert [line.split()[1] for line in said] == [
        "head_idle_w",
        "head_moving_w",
        "camera_on_w",
        "camera_frame_j",
    ]


@pytest.mark.parametrize("temperature_c", [-80.0, 70.0, float("nan")])
def test_a_temperature_that_nobody_shoots_in_is_refused(temperature_c: float) -> None:
    with pytest.raises(PlanError, match="temperature_c"):
        usable_share(temperature_c)


def test_cells_that_do_not_make_the_voltage_are_refused() -> None:
    with pytest.raises(PlanError, match=r"head_pack_v = 7\.2 and head_cells = 4 .* 1\.80 V a cell"):
        pack_says(Power(head_pack_v=7.2, head_cells=4))
    with pytest.raises(PlanError, match="head_cells = 0"):
        pack_says(Power(head_cells=0))
