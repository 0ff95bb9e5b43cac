"""Grounding and bonding of buildings."""

__version__ = "0.1.0"
