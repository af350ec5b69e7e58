"""What may be asked of a plan: the same show in another state, at another buffer or rate, or without a unit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked: loops OUT by strip, the cue that is on, units not there, buffer, rate, air; None as it is."""

    out: tuple[str, ...] = ()
    cue: float | None = None
    without: tuple[str, ...] = ()
    buffer_frames: int | None = None
    rate_hz: int | None = None
    temperature_c: float | None = None

    @property
    def anything(self) -> bool:
        """Tell whether anything is asked."""
        return self != Asked()

    @property
    def words(self) -> str:
        """Say what is asked, in words that follow "What if"."""
        parts = [f"{strip} is OUT" for strip in self.out]
        parts += [f"cue {self.cue:g} is on"] if self.cue is not None else []
        parts += [f"{unit} is not there" for unit in self.without]
        parts += [f"every computer is at {self.buffer_frames} frames"] if self.buffer_frames is not None else []
        parts += [f"the rate is {self.rate_hz} Hz"] if self.rate_hz is not None else []
        parts += [f"the air is at {self.temperature_c:g} °C"] if self.temperature_c is not None else []
        return ", ".join(parts)

    @property
    def another_plan(self) -> bool:
        """Tell whether the answer is another plan, and not the same one in another state."""
        others = (self.buffer_frames, self.rate_hz, self.temperature_c)
        return bool(self.without) or any(other is not None for other in others)


__all__ = ["Asked"]
