"""What a plan hangs on and somebody must say: facts of the desk and the show, with what each answer makes of them.

A fact has an id in plain words, a question, and its possible answers. Given answers stand in the show's desk section
under `known`, with who said so and when, and count as proven.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.model.desk import Block, Choice, Desk, StripKind
from sidetrip.model.figure import Fact as Words
from sidetrip.model.figure import Figure
from sidetrip.model.outboard import Unit
from sidetrip.model.ports import Ports
from sidetrip.model.show import Known, Show
from sidetrip.model.split import FOH
from sidetrip.showfile.read import nearest

Both = tuple[Show, Desk]
YES_NO = ("yes", "no")


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that somebody must say.

    answers: what can be said, empty for a number of milliseconds. tried: the answers under which the plan is tried.
    now: what is taken for true, `unknown` included. rule: what it decides; two of one rule can matter together.
    make: the show and desk under an answer.
    """

    id: str
    question: str
    answers: tuple[str, ...]
    tried: tuple[str, ...]
    now: str
    rule: str
    make: Callable[[Show, Desk, Words], Both]


def facts_of(show: Show, desk: Desk) -> tuple[Fact, ...]:
    """Return the facts that are unknown, or assumed though a plan can break on them, by id. Known ones are left out."""
    found = [*_inserts(show, desk), *_blocks(desk), *_stereo(desk), *_returns(desk), *_compensation(desk), *_key(desk)]
    found += [*_units(show), *_figures(show), *_other_desks(show)]
    return tuple(sorted((fact for fact in found if fact.id not in show.desk.known), key=lambda fact: fact.id))


def every_fact(show: Show, desk: Desk) -> tuple[Fact, ...]:
    """Return the facts of a desk as its type says it, those included that the show knows the answer to."""
    return facts_of(_blank(show), desk)


def answered(show: Show, desk: Desk) -> tuple[Show, Desk, tuple[Finding, ...]]:
    """Return the show and desk with everything that is known of them, and what is wrong with the answers given."""
    findings: list[Finding] = []
    every = {fact.id: fact for fact in every_fact(show, desk)}
    for key, known in sorted(show.desk.known.items()):
        path, where = ("desk", "known", key), f"desk / known / {key}"
        fact = every.get(key)
        if fact is None:
            what = f"'{key}' is nothing that is asked of this show and its desk"
            findings.append(Finding("name-unknown", where, what, "", nearest(key, every), path))
            continue
        said = understood(fact, known.answer)
        if said is None:
            values = f"found '{known.answer}'; {shown_answers(fact)}"
            findings.append(
                Finding("value-wrong", where, "This is no answer", values, "Correct the answer", (*path, "is"))
            )
            continue
        words = Words(**{"is": said}, standing="proven", source=f"{known.by}, {known.date}")
        show, desk = fact.make(show, desk, words)
    return show, desk, tuple(findings)


def understood(fact: Fact, said: str) -> str | None:
    """Return an answer in the words of the fact, None where it is none of them."""
    text = " ".join(said.split()).lower()
    if not fact.answers:
        number = text.removesuffix("ms").strip()
        return number if number.replace(".", "", 1).isdecimal() and float(number) <= 10_000 else None
    short = {answer[0]: answer for answer in fact.answers} if fact.answers == YES_NO else {}
    return short.get(text) or next((answer for answer in fact.answers if answer.lower() == text), None)


def shown_answers(fact: Fact) -> str:
    """Say what can be answered."""
    return " or ".join(fact.answers) if fact.answers else "a number of milliseconds, like 3.5"


def _blank(show: Show) -> Show:
    return show.model_copy(update={"desk": show.desk.model_copy(update={"known": {}})})


def _desk(desk: Desk, **update: object) -> Desk:
    """Return the desk with some keys changed, and what it keeps of its blocks made anew."""
    return Desk.model_validate({**{key: getattr(desk, name) for key, name in _keys(desk).items()}, **update})


def _keys(desk: Desk) -> dict[str, str]:
    return {info.alias or name: name for name, info in type(desk).model_fields.items()}


def _open(words: Words | None, desk: Desk) -> bool:
    """Tell whether an answer is not proven."""
    return words is not None and (words.standing or desk.standing) != "proven"


def _inserts(show: Show, desk: Desk) -> Iterator[Fact]:
    strips = show.strips()  # a strip that is not there is a finding of its own
    asked = {show.kind(r.strip) for r in show.requests if r.way == "insert" and r.strip in strips}
    for number, pool in enumerate(desk.strips):
        kinds = [kind for kind in pool.kinds if kind in asked]
        if not kinds or pool.insert is None or not _open(pool.insert.send_alive_when_out, desk):
            continue
        name = " and ".join(pool.kinds)

        def make(show: Show, desk: Desk, words: Words, number: int = number) -> Both:
            strips = tuple(_told(own, words) if index == number else own for index, own in enumerate(desk.strips))
            return show, desk.model_copy(update={"strips": strips})

        question = f"Does the insert send of a {name} strip stay alive while its insert is OUT?"
        now = pool.insert.send_alive_when_out.answer
        yield Fact(f"{name} send when OUT", question, YES_NO, YES_NO, now, "proof", make)


def _told(pool: StripKind, words: Words) -> StripKind:
    assert pool.insert is not None
    return pool.model_copy(update={"insert": pool.insert.model_copy(update={"send_alive_when_out": words})})


def _blocks(desk: Desk) -> Iterator[Fact]:
    """Yield whether a block of return ports can be switched in part. What is written is taken for true."""
    if desk.standing == "proven":
        return
    returns = {carrier.returns.group for carrier in desk.carriers}
    for number, block in enumerate(desk.block_lines):
        if block.each is not None or block.feeds.group not in returns or len(block.feeds) < 4:
            continue
        parts = [str(block.covered(choice)) for choice in block.choices if choice.covers not in (None, block.feeds)]

        def make(show: Show, desk: Desk, words: Words, number: int = number) -> Both:
            lines = list(desk.block_lines)
            lines[number] = _in_parts(lines[number]) if words.answer == "yes" else _whole(lines[number])
            return show, _desk(desk, blocks=tuple(lines))

        of = f" (in {', '.join(dict.fromkeys(parts))})" if parts else ", in pairs from the first on"
        question = f"Can the source of {block.feeds} be changed for a part of it alone{of}?"
        now = "yes" if parts else "no"
        yield Fact(f"parts of {block.feeds}", question, YES_NO, YES_NO, now, "ports", make)


def _whole(block: Block) -> Block:
    choices = tuple(choice for choice in block.choices if choice.covers in (None, block.feeds))
    return block.model_copy(update={"choices": choices})


def _in_parts(block: Block) -> Block:
    if any(choice.covers not in (None, block.feeds) for choice in block.choices):
        return block
    choices: list[Choice] = []
    for choice in block.choices:
        if isinstance(choice.from_, Ports) and len(choice.from_) == len(block.feeds):
            for count in range(2, len(block.feeds), 2):
                run = Ports(choice.from_.group, choice.from_.first, choice.from_.first + count - 1)
                covers = Ports(block.feeds.group, block.feeds.first, block.feeds.first + count - 1)
                choices.append(Choice(**{"from": run}, covers=covers))
        choices.append(choice)
    return block.model_copy(update={"choices": tuple(choices)})


def _stereo(desk: Desk) -> Iterator[Fact]:
    def make(show: Show, desk: Desk, words: Words) -> Both:
        return show, _desk(desk, stereo=words.answer)

    if desk.standing != "proven":
        question = (
            "May a stereo insert sit on any two neighbouring ports, or only on an odd one and the even one after?"
        )
        answers = ("odd-even", "any pair")
        yield Fact("stereo pairs", question, answers, answers, desk.stereo, "ports", make)


def _returns(desk: Desk) -> Iterator[Fact]:
    carried = {carrier.returns.group for carrier in desk.carriers}
    for number, group in enumerate(desk.ports):
        if desk.standing == "proven" or group.strip is None or group.name not in carried:
            continue

        def make(show: Show, desk: Desk, words: Words, number: int = number) -> Both:
            ports = list(desk.ports)
            ports[number] = ports[number].model_copy(update={"strip_open": words.answer == "yes"})
            return show, desk.model_copy(update={"ports": tuple(ports)})

        question = f"Are the strips that {group.name} ports feed open to the main mix as the house leaves them?"
        now = "yes" if group.strip_open else "no"
        yield Fact(f"{group.name} strips open", question, YES_NO, YES_NO, now, "patch", make)


def _compensation(desk: Desk) -> Iterator[Fact]:
    for number, own in enumerate(desk.compensation):
        if not _open(own.external_inserts, desk):
            continue
        name = " and ".join(own.at)

        def make(show: Show, desk: Desk, words: Words, number: int = number) -> Both:
            entries = list(desk.compensation)
            entries[number] = entries[number].model_copy(update={"external_inserts": words})
            return show, desk.model_copy(update={"compensation": tuple(entries)})

        question = f"When the desk aligns copies at its {name} mix, does it count the time of a loop on an insert?"
        yield Fact(f"{name} counts loops", question, YES_NO, YES_NO, own.external_inserts.answer, "time", make)


def _key(desk: Desk) -> Iterator[Fact]:
    def make(show: Show, desk: Desk, words: Words) -> Both:
        bypass = desk.bypass.model_copy(update={"group_key_takes_inserts": words})
        return show, desk.model_copy(update={"bypass": bypass})

    own = desk.bypass.group_key_takes_inserts
    if _open(own, desk) and desk.bypass.group_keys:
        question = "Can one user key take several inserts OUT at once, and with the routing page locked?"
        yield Fact("one key", question, YES_NO, YES_NO, own.answer, "bypass", make)


def _units(show: Show) -> Iterator[Fact]:
    for unit in show.units:
        if unit.kind == "computer" and unit.aligns == "unknown":
            question = f"Does {unit.name} delay every chain to its slowest (all), or each by its own time (per chain)?"
            answers: tuple[str, ...] = ("all", "per chain")
            yield Fact(f"{unit.name} aligns", question, answers, answers, "unknown", "time", _unit(unit, "aligns"))
        if unit.kind == "hardware" and unit.unpowered == "unknown":
            question = f"What does {unit.name} do without power: does it pass the sound, or is it silent?"
            answers = ("passes", "silent")
            made = _unit(unit, "unpowered")
            yield Fact(f"{unit.name} unpowered", question, answers, answers, "unknown", "bypass", made)


def _unit(unit: Unit, field: str) -> Callable[[Show, Desk, Words], Both]:
    def make(show: Show, desk: Desk, words: Words) -> Both:
        units = tuple(
            own.model_copy(update={field: words.answer}) if own.name == unit.name else own for own in show.units
        )
        return show.model_copy(update={"units": units}), desk

    return make


_SECTIONS = {"units": ("delay_ms",), "inputs": ("device_ms",), "mixes": ("device_ms",), "outputs": ("device_ms",)}
_LONGEST_MS = "20"


def _figures(show: Show) -> Iterator[Fact]:
    """Yield the times that are unknown or a range: tried at the ends of the range, or at none and at 20 ms."""
    for section, fields in _SECTIONS.items():
        for item in getattr(show, section):
            for field in fields:
                own: Figure | None = getattr(item, field)
                if own is None or (own.known and own.low == own.high):
                    continue
                tried = (f"{own.low:g}", f"{own.high:g}") if own.known else ("0", _LONGEST_MS)
                question = f"How late is {item.name} by itself, in milliseconds?"
                yield Fact(
                    f"{item.name} delay", question, (), tried, str(own), "time", _timed(section, item.name, field)
                )


def _other_desks(show: Show) -> Iterator[Fact]:
    """Yield what nobody has said of other desks: how they get microphones, whose the gain is, how late they are."""
    taken = {name for mix in show.mixes if mix.desk is not None for name in show.fed(mix.name)}
    for other in show.other_desks:
        name, splits = other.name, {show.split_of(item, other) for item in show.inputs if item.name in taken}
        here, gains = {other.split, *splits}, {show.gain_of(item, other) for item in show.inputs if item.name in taken}
        if other.split == "unknown" and "unknown" in splits:
            question = (
                f"How do microphones come to {name}: split before the preamps (analogue), or by preamps on the stage "
                "box that both desks share (shared)?"
            )
            answers: tuple[str, ...] = ("analogue", "shared")
            yield Fact(f"{name} split", question, answers, answers, "unknown", "gain", _of_desk(name, "split"))
        if other.gain == "unknown" and "unknown" in gains and here & {"shared", "unknown"}:
            question = f"Whose is the gain of the preamps that FOH and {name} share?"
            answers = (FOH, name)
            yield Fact(f"{name} gain", question, answers, answers, "unknown", "gain", _of_desk(name, "gain"))
        if other.compensated == "unknown" and here & {"shared", "unknown"}:
            question = f"When a shared gain is turned, does the desk that does not own it ({name} or FOH) take it back?"
            make = _of_desk(name, "compensated")
            yield Fact(f"{name} compensated", question, YES_NO, YES_NO, "unknown", "gain", make)
        for field, what in _DESK_TIMES.items():
            own: Figure | None = getattr(other, field)
            missing = field == "through_ms" and own is None and other.type is None
            settled = own is not None and own.known and own.low == own.high
            if settled or (own is None and not missing):
                continue
            tried = (f"{own.low:g}", f"{own.high:g}") if own is not None and own.known else ("0", _LONGEST_MS)
            key, now = f"{name} {field.removesuffix('_ms')}", "unknown" if own is None else str(own)
            question = f"How late is {what.format(name)}, in milliseconds?"
            yield Fact(key, question, (), tried, now, "time", _timed("other_desks", name, field))


_DESK_TIMES = {
    "through_ms": "{} from a microphone's jack to the jack of a mix",
    "tie_ms": "the tie from FOH to {}",
    "converter_ms": "the rate converter between FOH and {}",
}


def _of_desk(name: str, field: str) -> Callable[[Show, Desk, Words], Both]:
    def make(show: Show, desk: Desk, words: Words) -> Both:
        others = tuple(
            own.model_copy(update={field: words.answer}) if own.name == name else own for own in show.other_desks
        )
        return show.model_copy(update={"other_desks": others}), desk

    return make


def _timed(section: str, name: str, field: str) -> Callable[[Show, Desk, Words], Both]:
    def make(show: Show, desk: Desk, words: Words) -> Both:
        value = float(words.answer)
        figure = Figure(low=value, high=value, standing="proven", source=words.source)
        items = tuple(
            own.model_copy(update={field: figure}) if own.name == name else own for own in getattr(show, section)
        )
        return show.model_copy(update={section: items}), desk

    return make


__all__ = ["Fact", "Known", "answered", "every_fact", "facts_of", "shown_answers", "understood"]
