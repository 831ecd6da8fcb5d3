"""Belvedere: plan, rehearse, check, assemble and publish gigapixel panoramas."""

__version__ = "0.1.0"
