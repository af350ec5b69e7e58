"""Long work: it says how far it is, stops when asked, fails in words, and is found again."""

import threading
from collections.abc import Callable

from sidetrip.errors import ShowChanged, ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.web.jobs import Job, Jobs, Told


def ended(jobs: Jobs, number: int) -> Job:
    """Wait until a job is over, and return it."""
    for thread in threading.enumerate():
        if thread.name.endswith(f" {number}"):
            thread.join(10)
    job = jobs.get(number)
    assert job is not None
    return job


def failing(error: Exception) -> Callable[[Told], object]:
    """Return work that fails."""

    def work(told: Told) -> object:
        raise error

    return work


def test_it_says_how_far_it_is_and_what_came_out() -> None:
    """Half-way it says so; at the end there is its result."""
    jobs, half, go = Jobs(), threading.Event(), threading.Event()

    def work(told: Told) -> object:
        told("counting", 1, 2)
        half.set()
        go.wait(10)
        return 42

    job = jobs.start("count", "x", "counting", work)
    assert half.wait(10)
    told = jobs.get(job.number)
    assert told is not None
    assert (told.state, told.done, told.of) == ("running", 1, 2)
    assert jobs.start("count", "x", "counting", work).number == job.number
    go.set()
    assert ended(jobs, job.number).result == 42
    assert jobs.start("count", "x", "counting", work).number == job.number
    assert jobs.start("count", "y", "counting", lambda told: 1).number != job.number


def test_stopped_work_says_so_and_may_be_started_again() -> None:
    """It stops when it next says how far it is; nothing of it counts."""
    jobs, begun, go = Jobs(), threading.Event(), threading.Event()

    def work(told: Told) -> object:
        begun.set()
        go.wait(10)
        told("more", 1, 2)
        return "never"

    job = jobs.start("long", "x", "long", work)
    assert begun.wait(10)
    jobs.stop(job.number)
    go.set()
    done = ended(jobs, job.number)
    assert (done.state, done.result) == ("stopped", None)
    again = jobs.start("long", "x", "long", lambda told: 1)
    assert again.number != job.number
    assert ended(jobs, again.number).result == 1


def test_failures_are_told_in_words() -> None:
    """Findings, errors of ours, and what nobody foresaw: each ends the job with a sentence."""
    jobs = Jobs()
    finding = Finding("file-missing", "file", "There is no such file", "a.wav", "Check the path")
    errors: list[tuple[Exception, str]] = [
        (ShowUnreadable([finding]), "There is no such file: a.wav. Check the path"),
        (ShowChanged("show.yaml"), "show.yaml was changed"),
        (ZeroDivisionError("oh"), "The program failed at this: ZeroDivisionError: oh"),
    ]
    for number, (error, words) in enumerate(errors):
        job = ended(jobs, jobs.start("bad", str(number), "bad", failing(error)).number)
        assert job.state == "failed"
        assert words in job.what


def test_only_so_many_are_remembered() -> None:
    """Old work is forgotten; the last come first."""
    jobs = Jobs()
    for number in range(60):
        ended(jobs, jobs.start("small", str(number), "small", lambda told: 0).number)
    assert len(jobs.all()) <= 42
    assert jobs.all()[0].about == "59"
