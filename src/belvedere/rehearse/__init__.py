"""A simulated scene, camera and head with known truth."""

from belvedere.rehearse.blur import Blur
from belvedere.rehearse.camera import CameraTraits, Exposure, render_frame
from belvedere.rehearse.faults import (
    ColourJump,
    ExposureJump,
    Fault,
    Missing,
    Repeated,
    Shaken,
    Soft,
    Stuck,
    TestPictures,
    Truncated,
    random_faults,
)
from belvedere.rehearse.head import HeadTraits
from belvedere.rehearse.rehearsal import Rehearsal, Shot, photograph, rehearse, shots
from belvedere.rehearse.scene import PictureScene, Scene, Span

__all__ = [
    "Blur",
    "CameraTraits",
    "ColourJump",
    "Exposure",
    "ExposureJump",
    "Fault",
    "HeadTraits",
    "Missing",
    "PictureScene",
    "Rehearsal",
    "Repeated",
    "Scene",
    "Shaken",
    "Shot",
    "Soft",
    "Span",
    "Stuck",
    "TestPictures",
    "Truncated",
    "photograph",
    "random_faults",
    "rehearse",
    "render_frame",
    "shots",
]
