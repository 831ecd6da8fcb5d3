"""The built-in scene: the harbour town of Saltmere, seen from the mole."""

from .scene import HarbourScene

__all__ = ["HarbourScene"]
