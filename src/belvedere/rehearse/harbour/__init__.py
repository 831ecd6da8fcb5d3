"""The built-in scene: the harbour town of Saltmere, seen from the mole."""

from .finds import FINDS, Find
from .scene import HarbourScene

__all__ = ["FINDS", "Find", "HarbourScene"]
