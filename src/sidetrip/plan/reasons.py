"""Why a strip stays in, what would serve it, which musts conflict, and where only the name decided."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.ports import Ports
from sidetrip.model.show import Request, Show
from sidetrip.plan.allocation import Built, Choice, Key, Options, build_program, key_of
from sidetrip.plan.options import find_options
from sidetrip.plan.ways import Ground, Holding, holdings, survey
from sidetrip.showfile.check_strips import is_voice_alarm


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
    """Name a set of musts that cannot be had together, none of which can be spared from it, and what would free it."""
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
    changes = _freeing(show, desk, needed)
    names = ", ".join(f"'{request.strip}'" for request in needed)
    words = f"These musts cannot be met together: {names}"
    if changes:
        words += f"; they could, if {' or if '.join(changes)}"
    return [_conflicting(show, needed, words)]


def _freeing(show: Show, desk: Desk, requests: list[Request]) -> list[str]:
    """Return the changes that would let all of these out, each tried by itself; of a keep, the part that suffices."""
    found: list[Holding] = []
    for holding in holdings(show, desk):
        inside = any(other.ports != holding.ports and other.ports.overlaps(holding.ports) for other in found)
        if not inside and _frees(show, desk, requests, holding.ports):
            found.append(holding)
    return [holding.change for holding in found]


def _frees(show: Show, desk: Desk, requests: list[Request], freed: Ports) -> bool:
    ground = survey(show, desk, freed=freed)
    options = find_options(show, desk, ground)
    built = build_program(show, desk, ground, options, musts=False)
    terms = [built.of(key_of(request)) for request in requests]
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
            request.way,
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
        code = _code(options.protected.get(key))
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


def _code(protected: str | None) -> str:
    if protected is None:
        return "request-refused"
    return "voice-alarm-loop" if is_voice_alarm(protected) else "never-passes"


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
    changes = _freeing(show, desk, [*fixed, request])
    if key in options.refused:
        return options.refused[key], tuple(changes)
    changes += _who_could_stay(build_program(show, desk, ground, options, musts=False), options, choice, fixed, request)
    if _fits(build_program(show, desk, ground, options, with_loads=False, musts=False), [*fixed, request]):
        return f"{' or '.join(options.able[key])} has no load left for it", tuple(changes)
    if options.width[key] == 2 and _fits_mono(show, desk, ground, options, [*fixed, request], key):
        changes.append("it were mono")
    held: defaultdict[str, list[str]] = defaultdict(list)
    for loop in sorted(loops, key=lambda loop: loop.returns):
        if loop.unit in options.able[key]:
            held[loop.unit].append(f"{loop.returns} {loop.name}")
    width = "an odd-even pair of ports" if options.width[key] == 2 else "a port"
    holders = "; ".join(", ".join(names) for _, names in sorted(held.items()))
    reason = f"{width} is needed out and back, and none is left beside {holders or 'what stays as it is'}"
    return reason, tuple(changes)


def _who_could_stay(
    built: Built, options: Options, choice: Choice, fixed: list[Request], request: Request
) -> list[str]:
    """Return whose staying in would serve a request, least wanted first. Musts are not asked."""
    asked: dict[tuple[object, ...], bool] = {}
    found: list[str] = []
    for other in sorted(fixed, key=rank, reverse=True):
        key = key_of(other)
        if other.want == "must":
            continue
        alike = (options.width[key], options.load[key], options.able[key], choice.served[key], other.way, other.ports)
        if alike not in asked:  # of requests that are alike, one answer holds for all
            asked[alike] = _fits(built, [*(own for own in fixed if own is not other), request])
        if asked[alike]:
            found.append(f"'{other.strip}' stayed in")
    return found


def _fits(built: Built, requests: list[Request]) -> bool:
    terms = [built.of(key_of(request)) for request in requests]
    return all(terms) and built.program.feasible([(term, 1, 1) for term in terms])


def _fits_mono(show: Show, desk: Desk, ground: Ground, options: Options, requests: list[Request], key: Key) -> bool:
    narrow = replace(options, width={**options.width, key: 1})
    return _fits(build_program(show, desk, ground, narrow, musts=False), requests)


def ties(show: Show, desk: Desk, ground: Ground, options: Options, choice: Choice) -> list[Finding]:
    """Say where equal wants competed and only the name decided: one could go out in place of the other."""
    fixed = [request for request in options.requests if key_of(request) in choice.served]
    built = build_program(show, desk, ground, options, musts=False)
    lost = {index: float(len(ground.lost(desk, setting) or ())) for setting, index in built.choices.items()}
    as_many = (lost, 0.0, sum(lost[built.choices[setting]] for setting in choice.settings if setting in built.choices))
    answers: dict[tuple[object, object], bool] = {}

    def likeness(request: Request) -> tuple[object, ...]:
        key = key_of(request)
        return options.width[key], options.load[key], options.able[key], request.way, request.ports

    def exchangeable(one: Request, other: Request) -> bool:
        kinds = likeness(one), likeness(other)
        if kinds not in answers:
            terms = [built.of(key_of(request)) for request in fixed if request is not one] + [built.of(key_of(other))]
            wanted = [*((term, 1.0, 1.0) for term in terms), as_many]
            answers[kinds] = kinds[0] == kinds[1] or (all(terms) and built.program.feasible(wanted))
        return answers[kinds]

    found = []
    for level in range(9, 0, -1):
        own = [request for request in options.requests if request.want == level and options.able[key_of(request)]]
        out = [request for request in own if key_of(request) in choice.served]
        stay = [request for request in own if key_of(request) not in choice.served]
        rivals = [(one, other) for one in out for other in stay if exchangeable(one, other)]
        if rivals:
            went = ", ".join(dict.fromkeys(one.strip for one, _ in rivals))
            stayed = ", ".join(sorted({other.strip for _, other in rivals}))
            values = f"want {level}: out {went}; in {stayed}"
            remedy = "Give them different wants, so that you decide and not the alphabet"
            what = "Equal wants compete and the name decided"
            found.append(Finding("tie", "requests", what, values, remedy, ("requests",)))
    return found
