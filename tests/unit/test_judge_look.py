"""Dust, drops, flicker and vignetting on rehearsed shoots: found where they are, and only there."""

from __future__ import annotations

import re
from dataclasses import replace

import cv2
import numpy as np
import pytest

from belvedere.check import Finding
from belvedere.check.judge_drops import lens_drops
from belvedere.check.judge_dust import dust_specks
from belvedere.check.judge_lens import black_corners
from belvedere.rehearse import (
    CameraSettings,
    CameraTraits,
    Dust,
    ExposureJump,
    Fault,
    Flickering,
    Rehearsal,
    WetLens,
    sketch_scene,
    with_hazard,
)
from belvedere.rehearse.dust import GLASS_UM, grains
from belvedere.rehearse.harbour import HarbourScene
from belvedere.rehearse.view import view
from rehearsed_look import HEIGHT_PX, WIDTH_PX, Look, kinds, look_of, plan_of

LOOKS = ("dust", "drops", "flicker", "vignetting", "moving")


def photographed(
    *faults: Fault, seed: int = 5, traits: CameraTraits | None = None, f_number: float = 5.6
) -> Look:
    plan = plan_of()
    settings = CameraSettings(f_number=f_number, exposure_s=(f_number / 5.6) ** 2 / 400.0)
    rehearsal = Rehearsal(
        plan, traits or CameraTraits(), faults=tuple(faults), seed=seed, settings=settings
    )
    return look_of(rehearsal, sketch_scene(plan, seed, 0.3))


def the(look: Look, kind: str) -> Finding:
    (finding,) = [f for f in look.judged().shoot_findings if f.kind == kind]
    return finding


@pytest.fixture(scope="module")
def clean() -> Look:
    return photographed()


def test_a_clean_shoot_looks_clean(clean: Look) -> None:
    assert kinds(clean.judged(), LOOKS) == []


@pytest.fixture(scope="module")
def saltmere() -> tuple[Look, Rehearsal]:
    """Twelve frames of the harbour on a cloudy day; boats, people, waves and clouds move."""
    plan = plan_of(3, 4, -2.0)
    rehearsal = with_hazard(Rehearsal(plan, seed=10), "cloudy")
    return look_of(rehearsal, HarbourScene(11)), rehearsal


def test_clouds_and_waves_over_saltmere_are_no_fault_of_the_camera(
    saltmere: tuple[Look, Rehearsal],
) -> None:
    assert kinds(saltmere[0].judged(), ("dust", "drops", "flicker", "vignetting")) == []


def test_falling_light_at_dusk_is_no_fault_of_the_camera() -> None:
    plan = plan_of()
    look = look_of(with_hazard(Rehearsal(plan, seed=9), "dusk"), sketch_scene(plan, 9, 0.3))
    assert kinds(look.judged(), LOOKS) == []


def test_what_is_said_to_have_moved_did_and_waves_did_not(
    saltmere: tuple[Look, Rehearsal],
) -> None:
    """Each place is looked at once more, the camera held still: only the time differs."""
    look, rehearsal = saltmere
    remarks = look.judged().remarks
    assert remarks
    scene = HarbourScene(11)
    for remark in remarks:
        assert remark.kind == "moving"
        across, down, wide_px, high_px = _told_place(remark)
        others = set(re.findall(r"PIC_\d+\.JPG", remark.says)) - {remark.file}
        change = max(
            _change_ev(look, rehearsal, scene, remark.file, other, (across, down, wide_px, high_px))
            for other in others
        )
        # A boat or a person against what is behind it; waves stay below a third of that.
        assert change > 0.5


def _told_place(remark: Finding) -> tuple[float, float, float, float]:
    """Where the remark's own frame has it, shares of the frame, and how large it is, px."""
    name = re.escape(remark.file.rpartition("/")[2])
    told = r"[^;%]*?, (\d+)% across and (\d+)% down, (\d+) × (\d+) px"
    place = re.search(name + told, remark.says)
    assert place is not None
    across, down, wide, high = (float(number) for number in place.groups())
    return across / 100.0, down / 100.0, wide, high


def _change_ev(
    look: Look,
    rehearsal: Rehearsal,
    scene: HarbourScene,
    file: str,
    other: str,
    place: tuple[float, float, float, float],
) -> float:
    """How much the place changes between the moments of two frames, 90 % of it by less, EV."""
    shots = (look.shots[file], look.shots[other])
    lens, turn = rehearsal.lens(), shots[0].camera_from_world
    now, then = (view(scene, lens, turn, at_s=shot.conditions.at_s).mean(axis=2) for shot in shots)
    across, down, wide, high = place
    x, y = across * WIDTH_PX, down * HEIGHT_PX
    rows = slice(max(0, int(y - high / 2.0)), int(y + high / 2.0) + 1)
    columns = slice(max(0, int(x - wide / 2.0)), int(x + wide / 2.0) + 1)
    change = np.abs(np.log2((now + 0.01) / (then + 0.01)))[rows, columns]
    return float(np.percentile(change, 90))


def test_nothing_moves_in_a_scene_that_stands_still(clean: Look) -> None:
    assert clean.judged().remarks == ()


@pytest.mark.parametrize(("wide", "high", "found"), [(60, 40, True), (30, 60, True), (8, 6, False)])
def test_a_board_pasted_into_one_frame_is_found_at_its_place(
    clean: Look, wide: int, high: int, found: bool
) -> None:
    file = next(file for file, cell in clean.cells.items() if cell == (3, 3))
    picture = clean.source.pictures[file].copy()
    # Within what the right neighbour repeats: the last 30 % of the width.
    x, y = int(0.85 * WIDTH_PX), int(0.5 * HEIGHT_PX)
    near = picture[y - 40 : y + 40, x - 60 : x + 60].mean()
    picture[y - high // 2 : y + high // 2, x - wide // 2 : x + wide // 2] = (
        230 if near < 128 else 20
    )
    source = type(clean.source)({**clean.source.pictures, file: picture})
    remarks = replace(clean, source=source).judged().remarks
    if not found:
        assert remarks == ()
        return
    here = next(remark for remark in remarks if remark.file == file)
    across, down, told_wide, told_high = _told_place(here)
    assert across == pytest.approx(0.85, abs=0.02)
    assert down == pytest.approx(0.5, abs=0.02)
    assert told_wide == pytest.approx(wide, rel=0.3)
    assert told_high == pytest.approx(high, rel=0.3)
    assert {clean.cells[remark.file] for remark in remarks} == {(3, 3), (3, 4)}
    assert "row 3, column 4" in here.says
    assert {remark.says for remark in remarks} == {here.says}


def test_grains_are_found_at_their_places_and_of_their_size() -> None:
    traits, f_number = CameraTraits(camera_seed=3), 11.0
    look = photographed(Dust(10), traits=traits, f_number=f_number)
    pitch_um = 7440.0 / WIDTH_PX
    specks = dust_specks([look.small[frame.file] for frame in look.frames])
    lying = grains(traits.camera_seed, 10)
    for speck in specks:
        near = min(lying, key=lambda g: np.hypot(g.across - speck.across, g.down - speck.down))
        # One pixel of the small picture is 0.3 % of the width.
        assert abs(near.across - speck.across) < 0.012
        assert abs(near.down - speck.down) < 0.016
        # A grain's shadow is at half depth about as wide as the aperture's cone at the grain.
        cone_px = GLASS_UM / f_number / pitch_um
        assert 0.4 * cone_px < speck.width_share * WIDTH_PX < 2.5 * cone_px
    large = [g for g in lying if g.diameter_um > 25.0 and 0.05 < g.across < 0.95]
    found = [
        g
        for g in large
        if any(np.hypot(g.across - s.across, g.down - s.down) < 0.02 for s in specks)
    ]
    assert len(large) >= 2
    assert len(found) >= 0.75 * len(large)
    said = the(look, "dust")
    # Where frames overlap more is seen than in each alone.
    assert said.value is not None
    assert len(specks) <= said.value <= 10
    assert "in all frames" in said.says


def test_a_horizon_at_the_same_height_in_every_frame_is_no_dust_and_no_drop() -> None:
    """A single row: top and bottom differ alike in all frames, the scene along it does not."""
    rng = np.random.default_rng(4)
    pictures = []
    for _ in range(24):
        rough = rng.normal(0.0, 30.0, (96, 256)).astype(np.float32)
        cloud = cv2.GaussianBlur(rng.normal(0.0, 60.0, (96, 256)).astype(np.float32), (0, 0), 5.0)
        picture = np.vstack([170.0 + cloud, np.full((4, 256), 60.0), 110.0 + rough])
        pictures.append(np.clip(picture, 0, 255).astype(np.uint8))
    assert dust_specks(pictures) == []
    assert lens_drops(pictures) == []


@pytest.mark.parametrize(("first", "radius"), [(0, 0.1), (9, 0.08), (14, 0.12)])
def test_a_patch_blurred_by_hand_is_found_from_its_frame_on(
    clean: Look, first: int, radius: float
) -> None:
    """The blur is OpenCV's, the patch a disc: nothing of the rehearsal's own drops."""
    x, y = np.meshgrid(np.arange(WIDTH_PX) / WIDTH_PX, np.arange(HEIGHT_PX) / WIDTH_PX)
    disc = np.hypot(x - 0.7, y - 0.5 * HEIGHT_PX / WIDTH_PX) < radius
    pictures = dict(clean.source.pictures)
    for frame in clean.frames[first:]:
        sharp = pictures[frame.file]
        soft = cv2.GaussianBlur(sharp, (0, 0), 5.0)
        pictures[frame.file] = np.where(disc[..., None], soft, sharp)
    source = type(clean.source)(pictures)
    (finding,) = [
        f for f in replace(clean, source=source).judged().shoot_findings if f.kind == "drops"
    ]
    place = re.search(
        r"(\d+)% across, (\d+)% down, about (\d+) px wide, from (\S+) on", finding.says
    )
    assert place is not None
    assert abs(int(place[1]) - 70) <= 4
    assert abs(int(place[2]) - 50) <= 5
    assert int(place[3]) == pytest.approx(2.0 * radius * WIDTH_PX, rel=0.35)
    told = [frame.file for frame in clean.frames].index(place[4])
    # The first row, six frames, is sky, and cannot show it.
    assert first <= told <= max(first, 6) + 1


def test_drops_over_much_of_the_frame_are_a_fault_of_its_cell(clean: Look) -> None:
    x, y = np.meshgrid(np.arange(WIDTH_PX) / WIDTH_PX, np.arange(HEIGHT_PX) / HEIGHT_PX)
    middles = [(0.22, 0.26), (0.78, 0.26), (0.22, 0.74), (0.78, 0.74)]
    away = [np.hypot(x - across, (y - down) * HEIGHT_PX / WIDTH_PX) for across, down in middles]
    under = np.min(away, axis=0) < 0.14
    assert under.mean() > 0.3
    pictures = dict(clean.source.pictures)
    spoilt = [frame.file for frame in clean.frames if clean.cells[frame.file][0] >= 3]
    for file in spoilt:
        soft = cv2.GaussianBlur(pictures[file], (0, 0), 4.0)
        pictures[file] = np.where(under[..., None], soft, pictures[file])
    judgement = replace(clean, source=type(clean.source)(pictures)).judged()
    assert kinds(judgement, ("drops",)) == ["drops"]
    named = {finding.file for finding in judgement.findings if finding.kind == "soft"}
    assert named == set(spoilt)


def test_rehearsed_drops_are_found_and_said_with_their_beginning() -> None:
    look = photographed(WetLens((2, 4), 2), traits=CameraTraits(camera_seed=101))
    finding = the(look, "drops")
    began = next(file for file, cell in look.cells.items() if cell == (2, 4))
    files = [frame.file for frame in look.frames]
    told = [files.index(file) for file in re.findall(r"from (PIC\S+) on", finding.says)]
    assert min(told) >= files.index(began) - 1
    assert min(told) <= files.index(began) + 4


@pytest.mark.parametrize("depth", [0.1, 0.4])
def test_bands_are_as_strong_and_as_many_as_the_lamps_make_them(depth: float) -> None:
    look = photographed(Flickering((1, 1), depth, onwards=True))
    finding = the(look, "flicker")
    # Two frames in opposite phase differ by log2 (1 + d) / (1 - d), d dulled by the exposure.
    dulled = depth * float(np.sinc(100.0 / 400.0))
    most_ev = float(np.log2((1.0 + dulled) / (1.0 - dulled)))
    assert finding.value is not None
    assert 0.6 * most_ev < finding.value < 1.1 * most_ev
    assert "1/50 s" in finding.says
    assert "1/60 s" in finding.says


def test_one_frame_under_lamps_is_enough() -> None:
    look = photographed(Flickering((2, 3), 0.4))
    assert kinds(look.judged(), LOOKS) == ["flicker"]


def test_long_exposures_wipe_flicker_out() -> None:
    """1/50 s is two whole flashes at 50 Hz: nothing to see, nothing said."""
    plan = plan_of()
    settings = CameraSettings(exposure_s=1.0 / 50.0, f_number=16.0)
    fault = Flickering((1, 1), 0.4, onwards=True)
    rehearsal = Rehearsal(plan, faults=(fault,), seed=5, settings=settings)
    look = look_of(rehearsal, sketch_scene(plan, 5, 0.3))
    assert "flicker" not in kinds(look.judged(), LOOKS)


def test_exposures_that_jump_by_chance_at_the_same_settings_are_flicker() -> None:
    rng = np.random.default_rng(3)
    cells = [(row, column) for row in range(1, 5) for column in range(1, 7)]
    look = photographed(*(ExposureJump(cell, float(rng.uniform(-0.4, 0.4))) for cell in cells))
    assert "at settings that stay" in the(look, "flicker").says
    stated = photographed(
        *(ExposureJump(cell, float(rng.uniform(-0.4, 0.4)), stated=True) for cell in cells)
    )
    assert "flicker" not in kinds(stated.judged(), LOOKS)


@pytest.mark.parametrize("corner_ev", [2.4, 3.0])
def test_deep_vignetting_is_measured(corner_ev: float) -> None:
    look = photographed(traits=CameraTraits(corner_falloff_ev=corner_ev))
    assert the(look, "vignetting").value == pytest.approx(corner_ev, abs=0.1)


def test_usual_vignetting_is_the_balances_business() -> None:
    look = photographed(traits=CameraTraits(corner_falloff_ev=1.5))
    assert kinds(look.judged(), LOOKS) == []


def test_an_aperture_that_changed_shows_in_the_corners() -> None:
    """The barrel's falloff in EV halves for each stop (see `falloff` of the rehearsal)."""
    traits = CameraTraits(corner_falloff_ev=1.2)
    open_, closed = (photographed(traits=traits, f_number=n) for n in (5.6, 8.0))
    pictures = dict(open_.source.pictures)
    for frame in open_.frames[10:]:
        pictures[frame.file] = closed.source.pictures[frame.file]
    finding = the(replace(open_, source=type(open_.source)(pictures)), "vignetting")
    assert finding.value == pytest.approx(0.6, abs=0.12)
    assert f"from {open_.frames[10].file} on" in finding.says


def test_a_hood_in_the_corner_is_black() -> None:
    rng = np.random.default_rng(1)
    pictures = [rng.integers(60, 200, (96, 128)).astype(np.uint8) for _ in range(8)]
    assert black_corners(pictures) == []
    for picture in pictures:
        picture[:10, -14:] = 2
    assert black_corners(pictures) == ["top right"]
