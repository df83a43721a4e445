"""The schema of all JSON, as the manual publishes it, and what of a command's JSON is not as it says."""

from __future__ import annotations

import functools
import json
from collections.abc import Iterator
from typing import Any

from curves.commands.manual import _text

_KINDS = {"object": dict, "array": list, "string": str, "boolean": bool, "null": type(None)}


@functools.cache
def schema() -> dict[str, Any]:
    """Return the schema that stands in the manual."""
    content: dict[str, Any] = json.loads(_text("json").partition("```json\n")[2].partition("```")[0])
    return content


def unpublished(content: Any, definition: str) -> list[str]:
    """Return what of a command's JSON is not as the schema says, or has no place in it.

    Args:
        content: the JSON.
        definition: what the schema calls it.
    """
    whole, part = schema(), {"$ref": f"#/$defs/{definition}"}
    # New keys may come, but they come into the schema too.
    found = [*faults(content, {"anyOf": whole["anyOf"]}, whole), *faults(content, part, _closed(whole))]
    return list(dict.fromkeys(found))


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
    return isinstance(value, _KINDS[kind])


def _closed(rule: Any) -> Any:
    """Return a schema in which an object has the keys that are listed and no others."""
    if isinstance(rule, list):
        return [_closed(inner) for inner in rule]
    if not isinstance(rule, dict):
        return rule
    found = {key: _closed(inner) for key, inner in rule.items()}
    return {"additionalProperties": False, **found} if found.get("type") == "object" else found
