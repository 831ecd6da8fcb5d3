"""What one picture, or an overlapping pair, says: no opinions."""

from belvedere.measure.colour import (
    ciede2000,
    exposure_value,
    lab_from_linear,
    linear_table,
)
from belvedere.measure.contrast import HardDetail, hard_detail, hard_overlap, shared_part
from belvedere.measure.correlation import Matching, Peak, Prepared, fixed_pattern, prepare
from belvedere.measure.detail import (
    SECTORS_DEG,
    DetailDifference,
    PatchPowers,
    detail_difference,
    ellipse,
    joined,
    motion_px,
    noise_spectrum,
    patch_powers,
    solve_detail,
)
from belvedere.measure.edges import edge_blur_px
from belvedere.measure.features import (
    FeatureMatch,
    Features,
    find_features,
    find_overlaps,
    match_features,
    match_pair,
)
from belvedere.measure.levels import Levels, solve_levels
from belvedere.measure.overlap import Overlap
from belvedere.measure.patches import cut
from belvedere.measure.picture import Picture, halved, picture_of
from belvedere.measure.register import Mapping, Registration, register
from belvedere.measure.shift import Shift, phase_shift
from belvedere.measure.source import FrameSource, Pixels
from belvedere.measure.tone import ToneDifference, TonePicture, tone_difference, tone_picture

__all__ = [
    "SECTORS_DEG",
    "DetailDifference",
    "FeatureMatch",
    "Features",
    "FrameSource",
    "HardDetail",
    "Levels",
    "Mapping",
    "Matching",
    "Overlap",
    "PatchPowers",
    "Peak",
    "Picture",
    "Pixels",
    "Prepared",
    "Registration",
    "Shift",
    "ToneDifference",
    "TonePicture",
    "ciede2000",
    "cut",
    "detail_difference",
    "edge_blur_px",
    "ellipse",
    "exposure_value",
    "find_features",
    "find_overlaps",
    "fixed_pattern",
    "halved",
    "hard_detail",
    "hard_overlap",
    "joined",
    "lab_from_linear",
    "linear_table",
    "match_features",
    "match_pair",
    "motion_px",
    "noise_spectrum",
    "patch_powers",
    "phase_shift",
    "picture_of",
    "prepare",
    "register",
    "shared_part",
    "solve_detail",
    "solve_levels",
    "tone_difference",
    "tone_picture",
]
