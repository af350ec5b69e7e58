"""Wiring: does the right send come back, and only that."""

from __future__ import annotations

import math

import numpy as np

from sidetrip.prove.asked import Asked
from sidetrip.prove.limits import CROSSTALK, WRONG_RETURN
from sidetrip.prove.proof import Row, Verdict


def identity(asked: Asked) -> Row:
    """Ask whether what comes back here is what was sent."""
    question = "right return"
    floor = float(asked.on.pairs.floor_db[asked.catch.number].max())
    if not asked.own.entries:
        because = (
            f"Nothing above {floor:.0f} dB of what was sent comes back here. A gate may be closed: raise the level or "
            "bypass it; else follow the row of stops from the strip on"
        )
        return asked.row(question, "fail", because, level="wiring", at="send")
    if not asked.right:
        carries = asked.heard or asked.names(asked.own.entries)
        because = "Left and right are crossed" if carries == asked.loop else f"{carries} comes back here"
        return asked.row(question, "fail", because, level="wiring", at="return")
    wrong_db = asked.wrong_db()
    missing = asked.due - asked.own.entries
    verdict: Verdict = "pass" if wrong_db is None else WRONG_RETURN.judge(wrong_db)
    if missing and verdict == "pass":
        because = f"{asked.names(missing)} should pass here too and is not heard"
        return asked.row(question, "look", because, level="wiring", at="send")
    because = "" if verdict == "pass" else "Something else comes back here nearly as loud"
    return asked.row(question, verdict, because, measured=wrong_db, unit="dB", level="wiring")


def crosstalk(asked: Asked) -> Row:
    """Ask what of the other loops comes back here too."""
    question = "other loops"
    others = [e for e in range(asked.on.pairs.gain_db.shape[1]) if e not in asked.due]
    if not others:
        return asked.blind(question, "everything that was entered should pass here", level="wiring")
    if not asked.own.entries or not asked.right:
        return asked.blind(question, "its own send does not come back here", level="wiring")
    own, floors = asked.own_db(), asked.on.pairs.floor_db[asked.catch.number]
    floor = max(float(floors[e]) for e in others) - own
    level = asked.wrong_db()
    if level is None:
        if floor > CROSSTALK.fair:
            return asked.blind(question, f"this take hears nothing below {floor:.0f} dB", level="wiring")
        because = "" if floor <= CROSSTALK.good else f"None above {floor:.0f} dB, below which this take is deaf"
        return asked.row(question, "pass", because, level="wiring")
    gains = asked.on.pairs.gain_db[asked.catch.number]
    who = max(others, key=lambda e: gains[e] if np.isfinite(gains[e]) else -math.inf)
    verdict: Verdict = "look" if CROSSTALK.judge(level) == "look" else CROSSTALK.judge(level)
    because = "" if verdict == "pass" else f"{asked.names(frozenset([who]))} leaks in"
    return asked.row(question, verdict, because, measured=level, unit="dB", level="wiring", at="unit")


__all__ = ["crosstalk", "identity"]
