"""`python -m benchmarks`: run all subjects, print a table, write build/bench.json."""

import argparse
import json
import sys
import traceback
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from benchmarks.registry import Outcome, Spec, specs_of, subjects

RESULTS = Path(__file__).parent.parent / "build" / "bench.json"


@dataclass(frozen=True, slots=True)
class Result:
    """A spec and what came of it; no outcome when it crashed."""

    spec: Spec
    outcome: Outcome | None

    def as_json(self) -> dict[str, object]:
        """Return the entry for build/bench.json: "ratio" where the unit is "x", else "value"."""
        figure = "ratio" if self.spec.unit == "x" else "value"
        return {
            "name": self.spec.name,
            figure: self.outcome.value if self.outcome else None,
            "goal": self.spec.goal,
            "unit": self.spec.unit,
            "peer": self.spec.peer,
            "detail": dict(self.outcome.detail) if self.outcome else {"crashed": True},
        }

    def as_row(self) -> tuple[str, ...]:
        """Return the row for the table."""
        if self.outcome is None:
            return (self.spec.name, "-", self.spec.goal, self.spec.unit, "crashed", self.spec.peer)
        word = "met" if self.spec.met(self.outcome.value) else "not met"
        return (
            self.spec.name,
            f"{self.outcome.value:.3g}",
            self.spec.goal,
            self.spec.unit,
            word,
            self.spec.peer,
        )


def main() -> int:
    """Return 1 when a subject crashed, 2 for an unknown name, else 0: a goal not met is no failure."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--only", metavar="NAME", help="run this one alone; build/bench.json then holds only it")
    only: str | None = parser.parse_args().only

    specs, crashed = _load()
    names = [spec.name for spec in specs]
    if len(set(names)) < len(names):
        raise ValueError(f"Two benchmarks carry one name: {', '.join(sorted(names))}")
    if only is not None and only not in names:
        sys.stderr.write(f"There is no benchmark '{only}'. There are: {', '.join(names)}\n")
        return 2

    results = [_run(spec) for spec in specs if only in {None, spec.name}]
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(json.dumps([result.as_json() for result in results], indent=2) + "\n", "utf-8")
    head = ("name", "figure", "goal", "unit", "", "peer")
    sys.stdout.writelines(_table([head, *(result.as_row() for result in results)]))
    return 1 if crashed or any(result.outcome is None for result in results) else 0


def _load() -> tuple[list[Spec], bool]:
    specs: list[Spec] = []
    crashed = False
    for subject in subjects():
        try:
            specs.extend(specs_of(subject))
        except Exception:
            sys.stderr.write(f"{subject} cannot be loaded:\n{traceback.format_exc()}")
            crashed = True
    return specs, crashed


def _run(spec: Spec) -> Result:
    try:
        return Result(spec, spec.run())
    except Exception:
        sys.stderr.write(f"{spec.name} crashed:\n{traceback.format_exc()}")
        return Result(spec, None)


def _table(rows: list[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(cells).rstrip() + "\n"


if __name__ == "__main__":
    sys.exit(main())
