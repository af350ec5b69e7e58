"""What a Linux computer says of itself, read from its own files; elsewhere, and where a file is missing, nothing."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

from sidetrip.application.evidence_ports import Seen

_HOT_C = 85.0
_FREE = 0.2


class LinuxSystem:
    """The real ThisSystem. root: where the system's files begin; another one for tests."""

    def __init__(self, root: Path = Path("/")) -> None:
        self._root = root

    def look(self) -> tuple[Seen, ...]:
        """Return what can be read here."""
        if not sys.platform.startswith("linux"):
            return ()
        looks = (
            self._governor,
            self._mains,
            self._battery,
            self._wireless,
            self._cameras,
            self._disk,
            self._swap,
            self._heat,
        )
        return tuple(seen for look in looks if (seen := look()) is not None)

    def _governor(self) -> Seen | None:
        found = self._texts("sys/devices/system/cpu", "cpu[0-9]*/cpufreq/scaling_governor")
        if not found:
            return None
        kinds = sorted(set(found))
        return Seen("governor", f"set to {', '.join(kinds)}", kinds == ["performance"])

    def _supplies(self) -> list[tuple[str, Path]]:
        try:
            folders = sorted((self._root / "sys/class/power_supply").iterdir())
        except OSError:
            return []
        return [(_text(folder / "type"), folder) for folder in folders]

    def _mains(self) -> Seen | None:
        online = [_text(folder / "online") for kind, folder in self._supplies() if kind == "Mains"]
        return Seen("mains", "plugged in" if "1" in online else "not plugged in", "1" in online) if online else None

    def _battery(self) -> Seen | None:
        full = [
            (_number(folder / f"{what}_full"), _number(folder / f"{what}_full_design"), _text(folder / "capacity"))
            for kind, folder in self._supplies()
            if kind == "Battery"
            for what in ("energy", "charge")
        ]
        known = [(now / new, left) for now, new, left in full if now and new]
        if not known:
            return None
        health, left = known[0]
        return Seen("battery", f"holds {health:.0%} of what it did when new, {left or '?'} % full", health >= 0.8)

    def _wireless(self) -> Seen | None:
        on = self._texts("sys/class/rfkill", "*/soft")
        if not on:
            return None
        radios = sum(state == "0" for state in on)
        return Seen("wireless", f"{radios} of {len(on)} radios on", radios == 0)

    def _cameras(self) -> Seen | None:
        folder = self._root / "sys/class/video4linux"
        try:
            names = [path.name for path in folder.iterdir()]
        except FileNotFoundError:
            return Seen("cameras", "none", True) if (self._root / "sys/class").is_dir() else None
        except OSError:
            return None
        return Seen("cameras", f"{len(names)} found", not names)

    def _disk(self) -> Seen | None:
        try:
            usage = shutil.disk_usage(self._root)
        except OSError:
            return None
        free = usage.free / usage.total if usage.total else 0.0
        return Seen("disk", f"{free:.0%} free", free >= _FREE)

    def _swap(self) -> Seen | None:
        said = dict(line.split(":", 1) for line in _text(self._root / "proc/meminfo").splitlines() if ":" in line)
        try:
            total, free = (int(said[key].split()[0]) for key in ("SwapTotal", "SwapFree"))
        except (KeyError, ValueError, IndexError):
            return None
        return Seen("swap", f"{(total - free) / 1024:.0f} MiB swapped out", total == free)

    def _heat(self) -> Seen | None:
        read = [_number(path) for path in self._paths("sys/class/thermal", "thermal_zone*/temp")]
        known = [value / 1000 for value in read if value is not None]
        return Seen("heat", f"{max(known):.0f} °C at its hottest", max(known) < _HOT_C) if known else None

    def _paths(self, folder: str, pattern: str) -> list[Path]:
        try:
            return sorted((self._root / folder).glob(pattern))
        except OSError:
            return []

    def _texts(self, folder: str, pattern: str) -> list[str]:
        return [text for path in self._paths(folder, pattern) if (text := _text(path))]


def _text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return os.fsdecode(file.read(65536)).strip()
    except OSError:
        return ""


def _number(path: Path) -> float | None:
    try:
        return float(_text(path))
    except ValueError:
        return None
