"""Read a list of named views: schema ``belvedere/places/1``, see docs/publish.md."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from belvedere.foundation import PublishError
from belvedere.imagefiles import MosaicFile
from belvedere.publish import Place, clipped, region_towards

_Number = Annotated[float, Field(allow_inf_nan=False)]
_Edge = Annotated[int, Field(ge=0)]
_Side = Annotated[int, Field(ge=1)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid")


class _Place(_Strict):
    name: str = Field(min_length=1)
    note: str = ""
    bearing_deg: _Number | None = None
    elevation_deg: Annotated[float, Field(ge=-90, le=90)] = 0.0
    width_deg: Annotated[float, Field(gt=0, le=360)] = 5.0
    region_px: tuple[_Edge, _Edge, _Side, _Side] | None = None

    @model_validator(mode="after")
    def _one_way(self) -> _Place:
        if (self.bearing_deg is None) == (self.region_px is None):
            raise ValueError("a place has either bearing_deg or region_px")
        return self


class _Places(_Strict):
    schema_name: Literal["belvedere/places/1"] = Field(alias="schema")
    places: list[_Place]


def load_places(path: Path, picture: MosaicFile) -> tuple[Place, ...]:
    """The places in the file at `path`, as rectangles of `picture`.

    Raises
    ------
    PublishError
        Where the file cannot be read, says something unknown, or names a place that is not in
        the picture.
    """
    try:
        document = _Places.model_validate_json(path.read_bytes())
    except OSError as error:
        raise PublishError(f"{path} cannot be read: {error.strerror or error}.") from error
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"])) or "the file"
        raise PublishError(
            f"{path}: {where}: {first['msg']}.", "docs/publish.md says how to write places."
        ) from error
    return tuple(_resolved(place, picture, path) for place in document.places)


def _resolved(place: _Place, picture: MosaicFile, path: Path) -> Place:
    if place.region_px is not None:
        region = clipped(place.region_px, picture.width_px, picture.height_px)
    elif picture.layout is None:
        raise PublishError(
            f"{path}: {place.name!r} has a bearing, but the picture does not say where it looks.",
            "Give region_px instead.",
        )
    else:
        bearing = place.bearing_deg or 0.0
        region = region_towards(picture.layout, bearing, place.elevation_deg, place.width_deg)
    if region is None:
        raise PublishError(f"{path}: {place.name!r} is not in the picture.", "Correct its place.")
    return Place(place.name, region, place.note)
