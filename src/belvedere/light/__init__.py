"""Sun, moon, twilight, shadows: the light that a place has at a time."""

from belvedere.light.clock import zoned
from belvedere.light.model import LightEvent, LightFacts, StartChoice, SunAt, SunInCell

__all__ = ["LightEvent", "LightFacts", "StartChoice", "SunAt", "SunInCell", "zoned"]
