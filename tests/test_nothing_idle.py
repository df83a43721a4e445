"""No parameter with a default that nothing passes, and no function that nothing uses, below the commands."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

import curves
from tests.source_files import SOURCES, name_of, tree_of
from tests.test_house import SILENT

PUBLIC = set(curves.__all__)
"""The public package is there for others to call: its names, and the methods of its classes, are exempt."""


class Parameter(NamedTuple):
    """A parameter with a default: its callee (a class for its fields and its __init__), its name and its place."""

    callee: str
    name: str
    place: int | None


def of_function(node: ast.FunctionDef, owner: str) -> Iterator[Parameter]:
    """Yield the parameters of a function that have a default."""
    callee = owner if node.name == "__init__" else node.name
    own = bool(owner) and not any(ast.unparse(line) == "staticmethod" for line in node.decorator_list)
    names = [a.arg for a in (*node.args.posonlyargs, *node.args.args)][int(own) :]
    first = len(names) - len(node.args.defaults)
    yield from (Parameter(callee, name, place) for place, name in enumerate(names) if place >= first)
    keywords = zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True)
    yield from (Parameter(callee, a.arg, None) for a, default in keywords if default is not None)


def optional(scope: ast.AST, owner: str = "") -> Iterator[Parameter]:
    """Yield every parameter and every field of a dataclass that has a default, inside a scope, but the public ones."""
    place = 0
    for node in ast.iter_child_nodes(scope):
        if isinstance(node, ast.AnnAssign) and owner:
            # A field with a factory begins empty and is filled later.
            if node.value is not None and not isinstance(node.value, ast.Call):
                yield Parameter(owner, ast.unparse(node.target), place)
            place += 1
        elif isinstance(node, ast.ClassDef) and node.name not in PUBLIC:
            yield from optional(node, node.name)
        elif isinstance(node, ast.FunctionDef) and node.name not in PUBLIC:
            yield from of_function(node, owner)
            yield from optional(node)


def called(scope: ast.AST, owner: str = "") -> Iterator[tuple[str, ast.Call]]:
    """Yield every call inside a scope with the name called; `cls` is the class around it."""
    for node in ast.iter_child_nodes(scope):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
            name = node.func.id if isinstance(node.func, ast.Name) else node.func.attr
            yield owner if name == "cls" else name, node
        yield from called(node, node.name if isinstance(node, ast.ClassDef) else owner)


def passes(call: ast.Call, parameter: Parameter) -> bool:
    """Return True if a call gives a parameter a value, or may, with a star."""
    if any(keyword.arg in (None, parameter.name) for keyword in call.keywords):
        return True
    by_place = parameter.place is not None and len(call.args) > parameter.place
    return by_place or any(isinstance(argument, ast.Starred) for argument in call.args)


@cache
def every_call() -> dict[str, list[ast.Call]]:
    """Return the calls of the whole package by the name called."""
    found: dict[str, list[ast.Call]] = {}
    for path in SOURCES:
        for name, call in called(tree_of(path)):
            found.setdefault(name, []).append(call)
    return found


@cache
def values() -> set[str]:
    """Return the names that the package uses other than to call them: functions that are handed on, and types."""
    heads = {id(call.func) for calls in every_call().values() for call in calls}
    nodes = [node for path in SOURCES for node in ast.walk(tree_of(path)) if id(node) not in heads]
    return {n.id for n in nodes if isinstance(n, ast.Name)} | {n.attr for n in nodes if isinstance(n, ast.Attribute)}


def is_passed(parameter: Parameter) -> bool:
    """Return True if a call of the package may give a parameter a value."""
    calls = every_call()
    is_class = parameter.callee.lstrip("_")[:1].isupper()
    if is_class and any(passes(call, parameter._replace(place=None)) for call in calls["replace"]):
        return True
    handed_on = not is_class and parameter.callee in values()
    return handed_on or any(passes(call, parameter) for call in calls.get(parameter.callee, []))


def test_every_parameter_with_a_default_is_passed_somewhere() -> None:
    idle = [
        f"{name_of(path)}: {parameter.callee}({parameter.name})"
        for path in SILENT
        for parameter in optional(tree_of(path))
        if not is_passed(parameter)
    ]
    assert not idle, f"nothing passes {idle}"


def test_every_function_and_class_is_used_somewhere() -> None:
    used = set(every_call()) | values() | PUBLIC
    idle = [
        f"{name_of(path)}:{node.lineno}: {node.name}"
        for path in SILENT
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name not in used and not node.name.startswith("__")
    ]
    assert not idle, f"nothing uses {idle}"
