"""Long work: it runs beside the page, says how far it is, can be stopped, and is found again after a reload."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import count
from typing import Any, Literal

from sidetrip.errors import SidetripError, WithFindings

State = Literal["running", "done", "stopped", "failed"]
_MOST_KEPT = 40


class Stopped(Exception):
    """Somebody pressed stop."""


@dataclass(frozen=True, slots=True)
class Job:
    """One piece of work. done, of: how much of it is done, of 0 while nobody knows. result: JSON, once it is done."""

    number: int
    kind: str
    about: str
    words: str
    state: State = "running"
    done: int = 0
    of: int = 0
    result: Any = None
    what: str = ""


Told = Callable[[str, int, int], None]
"""Called now and then with what is being done, how much of it is done and of how much; raises Stopped."""


@dataclass(slots=True)
class Jobs:
    """All long work since the start, the last first. The same work about the same thing runs once."""

    _jobs: dict[int, Job] = field(default_factory=dict)
    _stop: set[int] = field(default_factory=set)
    _numbers: count[int] = field(default_factory=lambda: count(1))
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def start(self, kind: str, about: str, words: str, work: Callable[[Told], Any], *, anew: bool = False) -> Job:
        """Start work, or return it where it runs or is done already. about: what makes it the same work.

        anew: start it although it is done, since what it found is no longer kept.
        """
        with self._lock:
            for job in reversed(self._jobs.values()):
                if (job.kind, job.about) == (kind, about) and job.state in ("running", *(() if anew else ("done",))):
                    return job
            job = Job(next(self._numbers), kind, about, words)
            self._jobs[job.number] = job
            for old in [own for own in self._jobs.values() if own.state != "running"][:-_MOST_KEPT]:
                del self._jobs[old.number]
        threading.Thread(target=self._run, args=(job.number, work), name=f"{kind} {job.number}", daemon=True).start()
        return job

    def _run(self, number: int, work: Callable[[Told], Any]) -> None:
        def told(words: str, done: int, of: int) -> None:
            if number in self._stop:
                raise Stopped
            self._set(number, words=words, done=done, of=of)

        try:
            told(self._jobs[number].words, 0, 0)
            result = work(told)
            if number in self._stop:
                raise Stopped
            self._set(number, state="done", result=result)
        except Stopped:
            self._set(number, state="stopped", what="Stopped, as you asked. Nothing was changed")
        except WithFindings as error:
            first = error.findings[0]
            self._set(number, state="failed", what=f"{first.what}: {first.values}. {first.remedy}")
        except (SidetripError, OSError, MemoryError) as error:
            self._set(number, state="failed", what=str(error) or type(error).__name__)
        except Exception as error:  # the page has to say something of it, and go on
            self._set(number, state="failed", what=f"The program failed at this: {type(error).__name__}: {error}")

    def _set(self, number: int, **values: Any) -> None:
        with self._lock:
            if number in self._jobs:
                self._jobs[number] = replace(self._jobs[number], **values)

    def get(self, number: int) -> Job | None:
        """Return a job."""
        return self._jobs.get(number)

    def all(self) -> tuple[Job, ...]:
        """Return every job that is remembered, the last first."""
        with self._lock:
            return tuple(reversed(self._jobs.values()))

    def stop(self, number: int) -> None:
        """Ask a job to stop; it does when it next says how far it is."""
        if number in self._jobs:
            self._stop.add(number)


__all__ = ["Job", "Jobs", "State", "Stopped", "Told"]
