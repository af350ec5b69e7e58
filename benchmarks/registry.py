"""What a benchmark is, and where they are found: each module beside this one that has SPECS is a subject."""

import importlib
import operator
import pkgutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

_COMPARE: Mapping[str, Callable[[float, float], bool]] = {
    "<=": operator.le,
    ">=": operator.ge,
    "<": operator.lt,
    ">": operator.gt,
}
_NO_SUBJECTS = frozenset({"__init__", "__main__", "browser", "registry"})

Detail = Mapping[str, object]
"""What else was seen, as JSON can hold it: spread, sizes, the peer's own figure."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one run found: the figure that the goal is about, and what else was seen."""

    value: float
    detail: Detail


@dataclass(frozen=True, slots=True)
class Spec:
    """One question with a goal.

    goal: "<= 0.3" or ">= 8". unit: of the value; "x" for a ratio to the peer. peer: in words, what it is
    measured against in the same run. run: measures, and raises when it cannot.
    """

    name: str
    goal: str
    unit: str
    peer: str
    run: Callable[[], Outcome]

    def __post_init__(self) -> None:
        self._parts()

    def met(self, value: float) -> bool:
        """Tell whether a value meets the goal."""
        sign, bound = self._parts()
        return _COMPARE[sign](value, bound)

    def _parts(self) -> tuple[str, float]:
        sign, _, bound = self.goal.partition(" ")
        if sign not in _COMPARE:
            raise ValueError(f"The goal of {self.name} is not like '<= 0.3': {self.goal!r}")
        return sign, float(bound)


def subjects() -> list[str]:
    """Return the names of the subjects' modules."""
    found = pkgutil.iter_modules([str(Path(__file__).parent)])
    return sorted(module.name for module in found if module.name not in _NO_SUBJECTS)


def specs_of(subject: str) -> Iterator[Spec]:
    """Import a subject and yield what it asks; importing may raise, as running may."""
    yield from importlib.import_module(f"benchmarks.{subject}").SPECS
