"""The text of a new show file: short, commented, ready to plan."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence

from sidetrip.model.desk import Desk
from sidetrip.showfile.tables import ListedInput

_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 _.+/()'-]*[A-Za-z0-9_.+/()']|[A-Za-z]")
_UNSAFE = re.compile("[\x7f-\x9f\u2028\u2029\ufeff]")
"""What JSON leaves as it is, but YAML reads as the end of a line or refuses."""
_WORDS = {"true", "false", "null", "yes", "no", "on", "off", "y", "n", "unknown"}


def scalar(value: str) -> str:
    """Return text as YAML that reads back as the same text, quoted only where it must be."""
    if _PLAIN.fullmatch(value) and value.lower() not in _WORDS and ": " not in value:
        return value
    return _UNSAFE.sub(lambda match: f"\\u{ord(match[0]):04x}", json.dumps(value, ensure_ascii=False))


def show_text(title: str, desk_name: str, desk: Desk, inputs: Sequence[ListedInput]) -> str:
    """Return the text of a show that reads and plans, with the next steps as comments."""
    main = "Main mix" if any(row.name == "Main" for row in inputs) else "Main"
    groups = list(dict.fromkeys(row.group for row in inputs if row.group))
    lines = [
        "sidetrip: 1",
        f"show: {scalar(title)}",
        f"sample_rate: {48000 if 48000 in desk.rates else desk.rates[0]}",
        f"desk: {{type: {scalar(desk_name)}}}",
        "",
        "# What sits outside the desk. Measure each round trip from card out to card in, with an empty chain.",
        "units:",
    ]
    if desk.connections:
        socket = desk.connections[0].name
        lines += [f"  - {{name: computer, kind: computer, connects: {scalar(socket)}, buffer: auto, measured: []}}"]
    else:
        lines[-1] += " []"
    lines += ["", "inputs:" if inputs else "inputs: []"]
    for row in inputs:
        target = f"group: {scalar(row.group)}" if row.group else f"to: [{main}]"
        lines.append(f"  - {{ch: {row.ch}, name: {scalar(row.name)}, port: {scalar(str(row.port))}, {target}}}")
    lines += ["", "mixes:"]
    lines += [
        f"  - {{name: {scalar(group)}, kind: group, width: stereo, to: [{main}]}}" for group in groups if group != main
    ]
    lines += [f"  - {{name: {main}, kind: main, width: stereo}}", ""]
    out = next((group for group in desk.ports if group.direction == "out" and group.jacks and group.count > 1), None)
    lines += ["outputs:", f"  - {{name: PA, from: {main}, port: {out.name} 1-2}}"] if out else ["outputs: []"]
    lines += [
        "",
        "# Who wants to go out: must, or a want from 1 to 9. Then run: sidetrip plan .",
        "requests: []",
        f"#  - {{strip: {main}, chain: glue, want: must}}",
        "",
        "chains: {}",
        "#  glue: [{compressor: {threshold_db: -18, ratio: 2}}, {limiter: {lookahead_frames: 64}}]",
        "",
        "# What must stay as it is, and what must never pass a loop.",
        "keep: []",
        "never: []",
        "",
    ]
    return "\n".join(lines)
