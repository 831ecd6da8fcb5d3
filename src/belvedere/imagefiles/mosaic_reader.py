"""What a mosaic file says of itself: size, title, and how it lies on the sphere."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from belvedere.compose import Layout, ProjectionName
from belvedere.foundation import PublishError
from belvedere.imagefiles.levels import open_picture, require_file, upright_size
from belvedere.imagefiles.tile_reader import description, stored_levels

SCHEMA = "belvedere/mosaic/1"


@dataclass(frozen=True, slots=True)
class MosaicFile:
    """A picture file fit to be published; `layout` is None where it does not say how it lies."""

    width_px: int
    height_px: int
    title: str = ""
    layout: Layout | None = None


class _Description(BaseModel):
    """The JSON in the ImageDescription tag (270) of a mosaic."""

    model_config = ConfigDict(extra="ignore")

    title: str = ""
    projection: ProjectionName
    scale_px_per_deg: float = Field(gt=0, allow_inf_nan=False)
    left_deg: float = Field(allow_inf_nan=False)
    top_deg: float = Field(ge=-90, le=90, allow_inf_nan=False)
    full_turn: bool = False


def read_mosaic(path: Path) -> MosaicFile:
    """Read size and description of the picture at `path`, not its pixels.

    A picture without a description, or with one of somebody else's, is as good; one that claims
    to be ours has to be right.

    Raises
    ------
    PublishError
        Where there is no picture at `path`, or its description is damaged.
    """
    require_file(path)
    width, height, text = _size_and_words(path)
    try:
        document = json.loads(text)
    except ValueError:
        return MosaicFile(width, height)
    if not isinstance(document, dict) or document.get("schema") != SCHEMA:
        return MosaicFile(width, height)
    try:
        says = _Description.model_validate(document)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise PublishError(
            f"The description in {path} is damaged: {where}: {first['msg']}.",
            "Assemble the mosaic again.",
        ) from error
    layout = Layout(
        says.projection,
        says.scale_px_per_deg,
        says.left_deg,
        says.top_deg,
        width,
        height,
        says.full_turn,
    )
    return MosaicFile(width, height, says.title, layout)


def _size_and_words(path: Path) -> tuple[int, int, str]:
    stored = stored_levels(path)
    if stored:
        return *stored[0][1:], description(path)
    picture = open_picture(path)
    words = picture.get("image-description") if picture.get_typeof("image-description") else ""
    return *upright_size(picture), str(words)
