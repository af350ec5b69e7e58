"""How long a person waits for the command line: its help, and the demo's plan, each in fresh processes."""

import subprocess
import sys
import sysconfig
from pathlib import Path
from statistics import median
from time import perf_counter

from benchmarks.registry import Outcome, Spec

ROOT = Path(__file__).parent.parent
SIDETRIP = str(Path(sysconfig.get_path("scripts")) / "sidetrip")
PEER = (sys.executable, "-c", "pass")


def seconds(command: tuple[str, ...]) -> float:
    """Return the wall time of one process; raises when it fails, for a failure is often fast."""
    start = perf_counter()
    done = subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, check=False)
    took = perf_counter() - start
    if done.returncode != 0:
        said = done.stderr.decode("utf-8", errors="replace")[-2000:]
        raise RuntimeError(f"{' '.join(command)} ended with {done.returncode}:\n{said}")
    return took


def compare(command: tuple[str, ...], runs: int) -> Outcome:
    """Time a command and the bare interpreter by turns, so that a busy moment hits both."""
    for warm in (command, PEER):  # the first run reads from disk and writes bytecode
        seconds(warm)
    pairs = [(seconds(command), seconds(PEER)) for _ in range(runs)]
    own, peer = ([round(took, 4) for took in column] for column in zip(*pairs, strict=True))
    detail = {
        "runs": runs,
        "seconds": own,
        "peer_median_s": median(peer),
        "peer_seconds": peer,
        "python": sys.version.split()[0],
    }
    return Outcome(median(own), detail)


SPECS = (
    Spec(
        name="help",
        goal="<= 0.3",
        unit="s",
        peer="python -c pass",
        run=lambda: compare((SIDETRIP, "--help"), runs=9),
    ),
    Spec(
        name="demo-plan",
        goal="<= 2",
        unit="s",
        peer="python -c pass",
        run=lambda: compare((SIDETRIP, "plan", "demo/tin-lantern", "--json"), runs=5),
    ),
)
