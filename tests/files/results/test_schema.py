"""Every JSON that a command prints is valid against the schema that the manual publishes, and holds nothing else."""

from __future__ import annotations

import copy
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from curves.commands.manual import _text
from tests import scan_demo
from tests.commands.run import run
from tests.simulate import FOLDER

KINDS = {"object": dict, "array": list, "string": str, "boolean": bool, "null": type(None)}

REVERSAL, FILTERED = "heron-reversal.toml", "heron-filtered.toml"
FEW = ("--draws", "250")
DRAWER = ("--drawer", "drawer.csv", "--json", *FEW)
PIECES = ("--patch", scan_demo.PATCH_AREA, "--clear", f"area:{scan_demo.GATE_AREA}", "--dark", "131")
LIGHT = ("--clear", f"area:{scan_demo.CLEAR_AREA}", "--dark", str(scan_demo.DARK), "--area", scan_demo.AREA)
LAMP = ("--kind", "reversal", "--wedge", "21x0.15", "--lux", "500", "--seconds", "0.02")
RECORDS = ("heron-frames", "heron-negative", "heron-reversal", "heron-short", "wren-reversal", "wren-scan")
COMMANDS = {
    "strips": ("measure", *(f"{name}.toml" for name in RECORDS), "--json", *FEW),
    "strips of ei": ("ei", REVERSAL, "--at", "20", "--scene-seconds", "8", "--json", *FEW),
    "strips of report": ("report", REVERSAL, "--json", *FEW),
    "budgets": ("measure", REVERSAL, "--budget", "T", "--json", *FEW),
    "comparisons": ("compare", REVERSAL, FILTERED, "--json", *FEW),
    "control": ("control", "control", "--json"),
    "series": (
        "series", "times", "--by", "first_developer_minutes", "--for", "ei=10", "--for", "dmin=0.1", "--json", *FEW,
    ),
    "stacks": ("filters", REVERSAL, *DRAWER),
    "measured filter": ("filters", "--from", REVERSAL, FILTERED, "--name", "x", *DRAWER),
    "checked prediction": (
        "filters", "--verify", REVERSAL, FILTERED, "--stack", "pale blue 40 mired + cyan CC05", *DRAWER,
    ),
    "grain": ("grain", "heron-patch.tif", "wren-patch.tif", *PIECES, "--json"),
    "balance": ("balance", REVERSAL, "--json"),
    "scan": ("scan", "wren-scan.tif", "new", *LIGHT, *LAMP, "--json"),
    "check": ("check", REVERSAL, "drawer.csv", "none.toml", "--json"),
}  # fmt: skip


def schema() -> dict[str, Any]:
    """Return the schema that stands in the manual."""
    content: dict[str, Any] = json.loads(_text("json").partition("```json\n")[2].partition("```")[0])
    return content


def faults(value: Any, rule: dict[str, Any], whole: dict[str, Any], where: str = "$") -> Iterator[str]:
    """Give what is wrong with a value by a rule of the schema: of JSON Schema, the words that the schema uses."""
    if "$ref" in rule:
        rule = whole["$defs"][rule["$ref"].removeprefix("#/$defs/")]
    assert set(rule) <= {
        "type", "properties", "required", "additionalProperties", "items", "prefixItems", "minItems", "maxItems",
        "enum", "const", "anyOf", "$ref", "$schema", "$defs", "title",
    }, rule  # fmt: skip
    if "anyOf" in rule:
        ways = [list(faults(value, way, whole, where)) for way in rule["anyOf"]]
        yield from min(ways, key=len)
    if value not in rule.get("enum", [value]) or value != rule.get("const", value):
        yield f"{where}: {value!r}"
    kinds = rule.get("type", [])
    if kinds and not any(_is(value, kind) for kind in ([kinds] if isinstance(kinds, str) else kinds)):
        yield f"{where}: {value!r} is not {kinds}"
    elif isinstance(value, dict):
        yield from (f"{where}: no {key}" for key in rule.get("required", []) if key not in value)
        for key, inner in value.items():
            known = rule.get("properties", {}).get(key, rule.get("additionalProperties", {}))
            if known is False:
                yield f"{where}: the schema has no {key}"
            else:
                yield from faults(inner, known, whole, f"{where}.{key}")
    elif isinstance(value, list):
        if not rule.get("minItems", 0) <= len(value) <= rule.get("maxItems", len(value)):
            yield f"{where}: {len(value)} items"
        for at, inner in enumerate(value):
            of_place = rule.get("prefixItems", [])
            yield from faults(
                inner, of_place[at] if at < len(of_place) else rule.get("items", {}), whole, f"{where}[{at}]"
            )


def _is(value: object, kind: str) -> bool:
    if kind in ("number", "integer"):
        return isinstance(value, int | float if kind == "number" else int) and not isinstance(value, bool)
    return isinstance(value, KINDS[kind])


def closed(rule: Any) -> Any:
    """Return a schema in which an object has the keys that are listed and no others."""
    if isinstance(rule, list):
        return [closed(inner) for inner in rule]
    if not isinstance(rule, dict):
        return rule
    found = {key: closed(inner) for key, inner in rule.items()}
    return {"additionalProperties": False, **found} if found.get("type") == "object" else found


@pytest.mark.parametrize("name", COMMANDS)
def test_what_a_command_prints_is_what_the_schema_says(tmp_path: Path, name: str) -> None:
    folder = Path(shutil.copytree(FOLDER, tmp_path / "data"))
    done = run(folder, *COMMANDS[name])
    content, whole = json.loads(done.stdout), schema()
    part = {"$ref": f"#/$defs/{name.partition(' of ')[0]}"}
    assert list(faults(content, part, whole)) == []
    assert list(faults(content, {"anyOf": whole["anyOf"]}, whole)) == []
    # New keys may come, but they come into the schema too.
    assert list(faults(content, part, closed(whole))) == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), 3),
        (("strips", 0, "kind"), "slide"),
        (("strips", 0, "channels", "visual", "dmin"), {"value": None, "bound": ["=", 1.0], "why": "x"}),
        (("strips", 0, "channels", "visual", "dmin"), {"value": None, "bound": None}),
        (("strips", 0, "channels", "visual", "dmin", "value"), True),
        (("strips", 0, "working_ei", "nominal"), "12"),
        (("strips", 0, "warnings"), {}),
    ],
)
def test_what_is_not_as_the_schema_says_is_found(path: tuple[str | int, ...], value: object) -> None:
    whole = schema()
    content = json.loads(run(FOLDER, "measure", "wren-reversal.toml", "--json").stdout)
    changed = copy.deepcopy(content)
    inner = changed
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    assert list(faults(changed, whole["$defs"]["strips"], whole))
