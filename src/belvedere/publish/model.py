"""What is said about a published picture."""

from __future__ import annotations

from dataclasses import dataclass

from belvedere.compose import Layout
from belvedere.publish.pyramid import Pyramid

#: Where `belvedere serve` answers unless told otherwise: the ids of a site without an address.
LOCAL_ADDRESS = "http://localhost:8000/"


@dataclass(frozen=True, slots=True)
class Caption:
    """The words beside the picture, as on a museum's label.

    `rights` is the address of a licence or rights statement, or a sentence; `credit` names who
    made the picture; `date` is how the label writes the day it was taken; `alt` says what is to
    be seen to those who cannot see it.
    """

    title: str
    summary: str = ""
    credit: str = ""
    rights: str = ""
    date: str = ""
    alt: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """A named view: a rectangle in pixels of the whole picture (left, top, width, height)."""

    name: str
    region: tuple[int, int, int, int]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Site:
    """One picture with all that its documents and its page say.

    `address` is where the site will stand, ending in ``/``; `layout` says how the picture lies
    on the sphere, where that is known.
    """

    pyramid: Pyramid
    caption: Caption
    address: str = LOCAL_ADDRESS
    layout: Layout | None = None
    places: tuple[Place, ...] = ()
