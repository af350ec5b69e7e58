"""Why a strip stays in, what would serve it, which musts conflict, and where only the name decided."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Built, Choice, Key, Options, build_program, key_of
from sidetrip.plan.options import find_options
from sidetrip.plan.ways import Ground, survey


@dataclass(frozen=True, slots=True)
class Refusal:
    """A strip that stays in. would_fit_if: single changes, each of which alone would serve it, as tried."""

    strip: str
    want: int | str
    chain: str | None
    reason: str
    would_fit_if: tuple[str, ...]


def rank(request: Request) -> tuple[int, Key]:
    """Return the order in which requests get their ports: musts, high wants, names."""
    return (-10 if request.want == "must" else -int(request.want), key_of(request))


def conflict(show: Show, desk: Desk, ground: Ground, options: Options) -> list[Finding]:
    """Name the smallest set of musts and keeps that cannot be had together: leave out what is not needed for it."""
    musts = [request for request in options.requests if request.want == "must"]
    alone = [request for request in musts if not options.able[key_of(request)]]
    if alone:
        return [
            _conflicting(show, [request], f"'{request.strip}' must go out, but {options.refused[key_of(request)]}")
            for request in alone
        ]
    needed = list(musts)
    for request in musts:
        fewer = [other for other in needed if other is not request]
        built = build_program(show, desk, ground, options, musts=False)
        if not built.program.feasible([(built.of(key_of(other)), 1, 1) for other in fewer]):
            needed = fewer
    keeps = [
        show.keep[index]
        for index in sorted(range(len(show.keep)), key=lambda i: str(show.keep[i].ports))
        if _frees(show, desk, needed, index)
    ]
    names = ", ".join(f"'{request.strip}'" for request in needed)
    words = f"These musts cannot be met together: {names}"
    if keeps:
        words += "; they could, if one of these were given up: " + ", ".join(
            f"{keep.ports} for {keep.for_}" for keep in keeps
        )
    return [_conflicting(show, needed, words)]


def _frees(show: Show, desk: Desk, musts: list[Request], keep: int) -> bool:
    ground = survey(show, desk, without_keep=keep)
    options = find_options(show, desk, ground)
    built = build_program(show, desk, ground, options, musts=False)
    terms = [built.of(key_of(request)) for request in musts]
    return all(terms) and built.program.feasible([(term, 1, 1) for term in terms])


def _conflicting(show: Show, requests: list[Request], words: str) -> Finding:
    values = "; ".join(f"{request.strip}, {show.legs(request.strip)} wide" for request in requests)
    remedy = "Make one of them a want of 1 to 9, or free what stands in the way"
    return Finding(
        "musts-conflict",
        "requests",
        words,
        values,
        remedy,
        ("requests", show.requests.index(requests[0]), "want"),
    )


def refusals_of(
    show: Show, desk: Desk, ground: Ground, options: Options, choice: Choice, loops: tuple[PlacedLoop, ...]
) -> tuple[tuple[Refusal, ...], list[Finding]]:
    """Return every request that stays in, with its reason, and a finding for each."""
    refusals: list[Refusal] = []
    findings: list[Finding] = []
    answers: dict[tuple[object, ...], tuple[str, tuple[str, ...]]] = {}
    for request in sorted(options.requests, key=rank):
        key = key_of(request)
        if key in choice.served:
            continue
        alike = (
            request.want,
            options.width[key],
            options.load[key],
            options.able[key],
            request.ports,
            options.refused.get(key),
        )
        if alike not in answers:
            answers[alike] = _why(show, desk, ground, options, choice, request, loops)
        reason, changes = answers[alike]
        refusals.append(Refusal(request.strip, request.want, request.chain, reason, changes))
        path = ("requests", show.requests.index(request))
        remedy = f"It would go out if {' or if '.join(changes)}" if changes else "Leave it in, or ask for another strip"
        code = "never-passes" if "must never" in reason else "request-refused"
        findings.append(
            Finding(
                code,
                f"requests / {request.strip}",
                f"'{request.strip}' stays in: {reason}",
                f"want {request.want}",
                remedy,
                path,
            )
        )
    return tuple(refusals), findings


def _why(
    show: Show,
    desk: Desk,
    ground: Ground,
    options: Options,
    choice: Choice,
    request: Request,
    loops: tuple[PlacedLoop, ...],
) -> tuple[str, tuple[str, ...]]:
    """Say what stands in the way of a request, and which single changes would serve it beside all that is served."""
    key = key_of(request)
    fixed = [own for own in options.requests if key_of(own) in choice.served]
    changes = [
        f"{keep.ports} did not stay for {keep.for_}"
        for index, keep in sorted(enumerate(show.keep), key=lambda item: str(item[1].ports))
        if _frees(show, desk, [*fixed, request], index)
    ]
    if key in options.refused:
        return options.refused[key], tuple(changes)
    if _fits(build_program(show, desk, ground, options, with_loads=False, musts=False), [*fixed, request]):
        units = " or ".join(options.able[key])
        return f"{units} has no load left for it", tuple(changes)
    built = build_program(show, desk, ground, options, musts=False)
    changes += [
        f"'{other.strip}' stayed in"
        for other in fixed
        if _fits(built, [*(f for f in fixed if f is not other), request])
    ]
    if options.width[key] == 2 and _fits_mono(show, desk, ground, options, [*fixed, request], key):
        changes.append("it were mono")
    held: defaultdict[str, list[str]] = defaultdict(list)
    for loop in sorted(loops, key=lambda loop: loop.returns):
        if loop.unit in options.able[key]:
            held[loop.unit].append(f"{loop.returns} {loop.name}")
    width = "an odd-even pair of ports" if options.width[key] == 2 else "a port"
    holders = "; ".join(", ".join(names) for _, names in sorted(held.items()))
    return (
        f"{width} is needed out and back, and none is left beside {holders or 'what stays as it is'}",
        tuple(changes),
    )


def _fits(built: Built, requests: list[Request]) -> bool:
    terms = [built.of(key_of(request)) for request in requests]
    return all(terms) and built.program.feasible([(term, 1, 1) for term in terms])


def _fits_mono(show: Show, desk: Desk, ground: Ground, options: Options, requests: list[Request], key: Key) -> bool:
    narrow = Options(options.able, options.refused, options.requests, options.load, {**options.width, key: 1})
    return _fits(build_program(show, desk, ground, narrow, musts=False), requests)


def ties(options: Options, choice: Choice) -> list[Finding]:
    """Say where equal wants competed and only the name decided."""
    found = []
    for level in range(9, 0, -1):
        own = [request for request in options.requests if request.want == level and options.able[key_of(request)]]
        out = [request.strip for request in own if key_of(request) in choice.served]
        stay = [request.strip for request in own if key_of(request) not in choice.served]
        widths = {options.width[key_of(request)] for request in own}
        if out and stay and len(widths) == 1:
            values = f"want {level}: out {', '.join(out)}; in {', '.join(stay)}"
            remedy = "Give them different wants, so that you decide and not the alphabet"
            found.append(
                Finding(
                    "tie",
                    "requests",
                    "Equal wants compete and the name decided",
                    values,
                    remedy,
                    ("requests",),
                )
            )
    return found
