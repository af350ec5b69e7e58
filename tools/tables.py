"""Makes the reference pages of the docs from the code, so that they cannot drift; `make tables` runs it.

findings.md from the catalogue, commands.md from the commands' own help, show-keys.md and desk-keys.md from the
models, plan.schema.json from the shape of the plan's JSON. A test compares what is on disk with what this makes.
"""

from __future__ import annotations

import json
import re
import types
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import typer
from pydantic import BaseModel, TypeAdapter
from pydantic.fields import FieldInfo

from sidetrip.cli.main import app
from sidetrip.findings import CATALOGUE, Severity
from sidetrip.model.desk import FACTS, Desk
from sidetrip.model.figure import Fact, Figure
from sidetrip.model.outboard import PARAMETERS, Processor
from sidetrip.model.ports import Ports
from sidetrip.model.show import KEPT_FIELDS, KEPT_KEYS, Show
from sidetrip.reports.hold_json import hold_schema
from sidetrip.reports.plan_docs import PlanFile
from sidetrip.reports.proof_json import proof_schema

REFERENCE = Path(__file__).parent.parent / "docs" / "reference"

_HEAD = "<!-- Made by `make tables`; do not edit. -->\n\n"


def pages() -> dict[str, str]:
    """Return each page's text by file name."""
    return {
        "findings.md": _findings(),
        "commands.md": _commands(),
        "show-keys.md": _show_keys(),
        "desk-keys.md": _desk_keys(),
        "plan.schema.json": _schema(),
        "proof.schema.json": json.dumps(proof_schema(), indent=1) + "\n",
        "hold.schema.json": json.dumps(hold_schema(), indent=1) + "\n",
    }


def _findings() -> str:
    lines = [
        _HEAD + "# Findings",
        "",
        "A finding says what was found, the values, and what to do next. Its code never changes its meaning.",
        "An error means exit code 1; warnings and notes do not.",
    ]
    for severity in Severity:
        lines += ["", f"## {severity.value.capitalize()}s", "", "| Code | Meaning |", "| --- | --- |"]
        lines += [
            f"| `{code}` | {kind.meaning} |" for code, kind in sorted(CATALOGUE.items()) if kind.severity is severity
        ]
    return "\n".join(lines) + "\n"


def _commands() -> str:
    lines = [
        _HEAD + "# Commands",
        "",
        "Exit codes: 0 fine (warnings and notes may be printed), 1 findings of severity error, 2 wrong usage.",
    ]
    command = typer.main.get_command(app)
    for name, sub in sorted(command.commands.items()):  # type: ignore[attr-defined]  # a group, since app has several
        lines += ["", f"## sidetrip {name}", "", (sub.help or "").strip(), "", "| Word | Meaning |", "| --- | --- |"]
        for parameter in sub.params:
            words = parameter.opts[-1] if parameter.param_type_name == "option" else parameter.metavar or parameter.name
            bare = parameter.param_type_name == "argument" or getattr(parameter, "is_flag", False)
            value = "" if bare else parameter.metavar
            text = getattr(parameter, "help", "") or ""
            lines.append(f"| `{' '.join(filter(None, (words, value)))}` | {text.strip()} |")
    return "\n".join(lines) + "\n"


def _show_keys() -> str:
    kept = [*KEPT_KEYS, *(f"{key}.{field}" for key, fields in KEPT_FIELDS.items() for field in fields)]
    lines = [
        _HEAD + "# Keys of a show file",
        "",
        "A *figure* is a number, a range like `2 to 4`, the word `unknown`, or "
        "`{is: 3.0, standing: proven, when: 2026-11-20, state: all OUT, source: ...}`. "
        "Ports are written `aux in 7-8`. Every key that is not marked *needed* may be left out.",
        "",
        f"Read and kept, but not used by anything yet: {', '.join(f'`{key}`' for key in kept)}, and the settings of "
        "processors other than their delay and load.",
        *_models(Show, "The top of the file"),
        "",
        "## Processors of a chain",
        "",
        "A chain is a list of processors, each written `{kind: {setting: value}}`. "
        "`delay_frames` declares a processor's delay at the show's rate, `lookahead_ms` adds to it, `load` is its "
        "share of the unit from 0 to 1. A kind that may be late and declares nothing is unknown, never zero.",
        "",
        "| Kind | Settings |",
        "| --- | --- |",
        *(
            f"| `{kind}` | {', '.join(f'`{own}`' for own in sorted(settings))} |"
            for kind, settings in PARAMETERS.items()
        ),
    ]
    return "\n".join(lines) + "\n"


def _desk_keys() -> str:
    lines = [
        _HEAD + "# Keys of a desk file",
        "",
        "Copy a shipped desk type, change it, and name it in the show: `desk: {type: my-desk.yaml}`. "
        "It is checked the same way. `standing` and `source` at the top hold for every figure that does not say "
        "otherwise.",
        *_models(Desk, "The top of the file"),
        "",
        "## Questions answered under `facts`",
        "",
        "| Key | Question |",
        "| --- | --- |",
        *(f"| `{key}` | {question} |" for key, question in FACTS.items()),
    ]
    return "\n".join(lines) + "\n"


def _models(top: type[BaseModel], title: str) -> list[str]:
    lines: list[str] = []
    waiting: list[tuple[str, type[BaseModel]]] = [(title, top)]
    seen: set[type[BaseModel]] = set()
    while waiting:
        heading, model = waiting.pop(0)
        if model in seen:
            continue
        seen.add(model)
        lines += ["", f"## {heading}", "", re.sub(r"\s+", " ", model.__doc__ or "").strip(), ""]
        lines += ["| Key | Form |", "| --- | --- |"]
        for name, field in model.model_fields.items():
            key = field.alias or name
            needed = ", needed" if field.is_required() else ""
            lines.append(f"| `{key}` | {_form(field)}{needed} |")
            inner = _inner(field.annotation)
            if inner is not None:
                waiting.append((key if model is top else f"{heading}: {key}", inner))
    return lines


def _inner(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return None if annotation in (Figure, Fact, Processor) else annotation
    for argument in get_args(annotation):
        if (found := _inner(argument)) is not None:
            return found
    return None


_WORDS: dict[Any, str] = {
    str: "text",
    int: "whole number",
    float: "number",
    bool: "yes or no",
    Figure: "figure",
    Fact: "answer",
    Ports: "ports",
    Processor: "processor",
    Any: "anything",
}


def _form(field: FieldInfo) -> str:
    if field.description:
        return field.description
    bounds = {type(item).__name__.lower(): item for item in field.metadata}
    limits = [
        f"{word} {getattr(bounds[key], key)}"
        for key, word in (("ge", "from"), ("gt", "above"), ("le", "to"))
        if key in bounds
    ]
    return " ".join([_type(field.annotation), *limits])


def _type(annotation: Any) -> str:
    if annotation in _WORDS:
        return _WORDS[annotation]
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _type(arguments[0])
    if origin in (Union, types.UnionType):
        return " or ".join(_type(argument) for argument in arguments if argument is not type(None))
    if origin is Literal:
        return " or ".join(f"`{argument}`" for argument in arguments)
    if origin is tuple:
        return f"list of {_type(arguments[0])}"
    if origin is dict:
        return f"{_type(arguments[1])} by name" if arguments[1] is not Any else "keys and values"
    return "keys below" if isinstance(annotation, type) else str(annotation)


def _schema() -> str:
    schema = TypeAdapter(PlanFile).json_schema()
    text = json.dumps(_closed(schema), indent=1, ensure_ascii=False)
    return text.replace('"return_"', '"return"') + "\n"


def _closed(node: Any) -> Any:
    """Let no object have keys that are not described."""
    if isinstance(node, dict):
        out = {key: _closed(value) for key, value in node.items()}
        if out.get("type") == "object" and "properties" in out:
            out["additionalProperties"] = False
        return out
    return [_closed(item) for item in node] if isinstance(node, list) else node


def main() -> None:
    """Write every page."""
    REFERENCE.mkdir(parents=True, exist_ok=True)
    for name, text in pages().items():
        (REFERENCE / name).write_text(text, encoding="utf-8")
        typer.echo(f"wrote docs/reference/{name}")


if __name__ == "__main__":
    main()
