"""The colours of pictures. No meaning by hue alone: shape, hatch and a word carry it too."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Palette:
    """ground: the page. text, quiet: words. desk: what it does itself. attention: what sticks out.

    loop, hatch: the fill and the slanting lines of whatever is outside the desk; one of the two stands off the ground.
    on_loop: words on that fill.
    """

    ground: str
    text: str
    quiet: str
    desk: str
    loop: str
    hatch: str
    attention: str
    on_loop: str


PAGE = Palette("#14171a", "#e9e4da", "#9aa3a8", "#7f97a8", "#e0a33a", "#8f6a2c", "#f4e3bd", "#16130d")
DIM = Palette("#0b0504", "#e2917c", "#b0705f", "#8d5a4f", "#c2622c", "#6b3316", "#f0b9a6", "#0b0504")
PRINT = Palette("#ffffff", "#000000", "#555555", "#555555", "#e0e0e0", "#404040", "#000000", "#000000")

__all__ = ["DIM", "PAGE", "PRINT", "Palette"]
