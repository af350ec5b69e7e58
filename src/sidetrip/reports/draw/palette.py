"""The colours of pictures. No meaning by hue alone: shape, hatch and a word carry it too."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Palette:
    """ground: the page. text, quiet: words. desk: what it does. loop: what is outside. attention: what sticks out."""

    ground: str
    text: str
    quiet: str
    desk: str
    loop: str
    attention: str


PAGE = Palette("#14171a", "#e9e4da", "#9aa3a8", "#7f97a8", "#e0a33a", "#f4e3bd")
PRINT = Palette("#ffffff", "#000000", "#555555", "#666666", "#000000", "#000000")

__all__ = ["PAGE", "PRINT", "Palette"]
