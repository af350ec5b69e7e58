"""One loop leg, question by question: measured, expected, a verdict and why."""

from __future__ import annotations

from sidetrip.prove.asked import Asked
from sidetrip.prove.clean import clock, distortion, dropouts, idle_noise, twice
from sidetrip.prove.proof import Row
from sidetrip.prove.transfer import delay, dynamics, gain, polarity, response
from sidetrip.prove.ways import by_several_ways
from sidetrip.prove.wiring import crosstalk, identity

_NEED_ITS_SOUND = ("delay", "polarity", "gain", "dynamics", "response", "distortion", "twice", "clock", "dropouts")


def judge(asked: Asked) -> tuple[Row, ...]:
    """Return every row of wiring and transfer, in the order of the sheet."""
    way = asked.way
    if not asked.own.entries or not asked.right or way is None:
        why = "nothing comes back here" if not asked.own.entries else "something else comes back here"
        sound = tuple(asked.blind(question, why) for question in _NEED_ITS_SOUND)
        if asked.on.reference_slips():  # a take that is spoilt is told whatever comes back
            sound = (*sound[:-1], dropouts(asked))
    elif by_several_ways(asked.on.expected, way):
        why = "it should arrive here by several ways"
        sound = tuple(asked.blind(question, why) for question in _NEED_ITS_SOUND)
    else:
        sound = (
            delay(asked, way),
            polarity(asked, way),
            gain(asked, way),
            dynamics(asked, way),
            response(asked, way),
            distortion(asked),
            twice(asked, way),
            clock(asked),
            dropouts(asked),
        )
    return (identity(asked), crosstalk(asked), *sound, idle_noise(asked))


__all__ = ["judge"]
