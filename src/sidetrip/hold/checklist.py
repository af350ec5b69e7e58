"""What to look at on the computer before a show, by the time that is left. Common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.hold.advice import UnitAdvice


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to tick. key: what a system may say of itself about it, "" when only a person can look."""

    words: str
    key: str = ""


@dataclass(frozen=True, slots=True)
class Stage:
    """What belongs to one time before the show."""

    when: str
    items: tuple[Item, ...]


def check_list(own: UnitAdvice | None) -> tuple[Stage, ...]:
    """Return the stages in order of time; with advice, its buffer and rate are on the list."""
    return (
        Stage(
            "7 days before",
            (
                Item("Updates of system, drivers, host and plugs are done, and now switched off", "updates"),
                Item("File sync, indexing, back-up and virus scans are off or set for another time", "services"),
                Item("The disk is copied as an image, and the copy starts"),
                Item("Every licence works without a network for 14 days and more"),
                Item("An account of its own for shows logs in by itself, and nothing else starts with it"),
            ),
        ),
        Stage(
            "1 day before",
            (
                Item("It ran for hours under the full load of the show: log it, and add the log to the evidence"),
                Item("Ten minutes with a fifth more load than the show has, without an overrun"),
                Item("The battery is healthy and full", "battery"),
                Item("A copy of the session is on a stick; a spare cable was tried"),
            ),
        ),
        Stage(
            "3 hours before",
            (
                Item("It runs on mains", "mains"),
                Item("Power is set to most, and the clock of the processor does not fall", "governor"),
                Item("Display, disk, system and sockets never sleep; closing the lid does nothing", "sleep"),
                Item("Wireless, radio keyboards and notifications are off", "wireless"),
                Item("No phone is plugged in, no camera", "cameras"),
                Item("The card sits in a socket of its own, in no hub"),
                Item("A fifth of the disk is free", "disk"),
                Item("Date and time are right", "clock"),
                Item("Memory is enough: nothing is swapped out", "swap"),
            ),
        ),
        Stage(
            "60 minutes before",
            (
                Item("The host may record sound: where it may not, the device opens and gives silence"),
                Item("The right device is chosen for in and for out"),
                Item(_settings(own)),
                Item("Sounds of the system go to its own loudspeaker, and are off; the card is not the default device"),
                Item("The session is loaded, inputs and outputs are assigned, names match the patch sheet"),
                Item("The recorder of the host writes to another disk, or not at all"),
            ),
        ),
        Stage(
            "30 minutes before",
            (
                Item("The loops are proven again"),
                Item("A log runs while walk-in music plays"),
            ),
        ),
        Stage(
            "5 minutes before",
            (
                Item("The longest block so far is under three quarters of the period"),
                Item("It is not hot, and its air is free", "heat"),
                Item("The mains lamp of its supply is lit; the screen is dim and does not lock"),
                Item("Hands off: nothing is opened, loaded or plugged until after the show"),
            ),
        ),
        Stage("after", (Item("Stop the log, add it to the evidence; only then networks on"),)),
    )


def _settings(own: UnitAdvice | None) -> str:
    if own is None or own.advised is None:
        return "Rate as on the desk, buffer as on the sheet"
    return f"Rate {own.rate} Hz as on the desk, buffer {own.advised} frames"


__all__ = ["Item", "Stage", "check_list"]
