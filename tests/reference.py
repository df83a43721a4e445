"""The reference of the public API, from its docstrings: ``python -m tests.reference`` writes it into the manual."""

from __future__ import annotations

import inspect
import re
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import curves

CHAPTER = Path(curves.__file__).parent / "manual" / "python.md"
BEGIN, END = "<!-- reference -->\n", "<!-- end of reference -->\n"
WIDTH = 79

GROUPS = {
    "A strip": (
        "Strip",
        "load_strip",
        "Wedge",
        "Pieces",
        "Patches",
        "FilterUsed",
        "ReaderScale",
        "Schwarzschild",
        "TableOfTimes",
    ),
    "How it was exposed": ("Contact", "GreyFrame", "Camera", "Frames", "Eye", "GivenExposure"),
    "Analysis": ("analyse", "analyse_for_index", "Choices", "fit_curve", "difference", "difference_in_stops"),
    "Several strips": (
        "compare",
        "Tolerances",
        "together",
        "join",
        "series",
        "settings_for",
        "Repeatability",
        "control",
    ),
    "Tables and a figure": ("measures_frame", "points_frame", "steps_frame", "curve_frame", "figure"),
    "Results": (
        "Analysis",
        "WorkingEI",
        "ChannelFinding",
        "Point",
        "Speed",
        "Curve",
        "Quantity",
        "CommonIndex",
        "JoinedStrip",
    ),
    "Errors": ("CurvesError", "StripError", "RecordError", "OutputError", "GrainError"),
}
_FOUND = GROUPS["Results"]
"""Classes that nobody makes by hand: their signature is left out."""

_SECTION = re.compile(r"^(Args|Attributes|Returns|Raises|Example):$")


def reference() -> str:
    """Return the reference as Markdown."""
    return "\n".join(line for group, names in GROUPS.items() for line in _group(group, names)).rstrip() + "\n"


def rewritten(text: str) -> str:
    """Return the chapter with the reference as the docstrings have it."""
    before, _, rest = text.partition(BEGIN)
    return f"{before}{BEGIN}\n{reference()}\n{END}{rest.partition(END)[2]}"


def _group(group: str, names: tuple[str, ...]) -> Iterator[str]:
    yield from (f"### {group}", "")
    for name in names:
        public = getattr(curves, name)
        yield from (f"#### `{name}`", "")
        if name not in _FOUND and not (inspect.isclass(public) and issubclass(public, Exception)):
            yield from _signature(name, public)
        yield from _documented(public)
        if inspect.isclass(public) and not issubclass(public, Exception):
            for own, member in vars(public).items():
                yield from _member(name, own, member)


def _member(owner: str, name: str, member: Any) -> Iterator[str]:
    """Yield a public method or property of a class."""
    if name.startswith("_"):
        return
    if isinstance(member, property) or hasattr(member, "attrname"):
        yield from (f"##### `{owner}.{name}`", "", *_documented(member))
    elif isinstance(member, classmethod) or inspect.isfunction(member):
        yield from (f"##### `{owner}.{name}`", "")
        yield from _signature(f"{owner}.{name}" if isinstance(member, classmethod) else name, member)
        yield from _documented(member)


def _signature(name: str, called: Any) -> Iterator[str]:
    """Yield how something is called, with the types of its arguments, as a block."""
    function = called.__func__ if isinstance(called, classmethod) else called
    signature = inspect.signature(function)
    given = [p for own, p in signature.parameters.items() if own not in ("self", "cls")]
    parts = [_parameter(p) for p in given]
    for at, p in enumerate(given):
        if p.kind is p.KEYWORD_ONLY:
            parts.insert(at, "*")
            break
    result = "" if inspect.isclass(called) else f" -> {signature.return_annotation}"
    line = f"{name}({', '.join(parts)}){result}"
    if len(line) > WIDTH:
        line = "\n".join([f"{name}(", *(f"    {part}," for part in parts), f"){result}"])
    yield from ("```text", *line.splitlines(), "```", "")


def _parameter(p: inspect.Parameter) -> str:
    if p.default is p.empty:
        return f"{p.name}: {p.annotation}"
    default = "..." if "factory" in repr(p.default) else repr(p.default)
    return f"{p.name}: {p.annotation} = {default}"


def _documented(public: Any) -> Iterator[str]:
    """Yield a docstring as Markdown."""
    paragraphs: list[str] = []
    section = ""
    for line in [*(inspect.getdoc(public) or "").splitlines(), ""]:
        if heading := _SECTION.match(line):
            section = heading[1]
            continue
        if line.strip() and (section or paragraphs or not line.startswith(" ")):
            paragraphs.append(line)
            continue
        if paragraphs:
            yield from _block(section, paragraphs)
            paragraphs, section = [], section if section == "Example" else ""
    assert not paragraphs


def _block(section: str, lines: list[str]) -> Iterator[str]:
    """Yield one paragraph, or one section, of a docstring."""
    text = textwrap.dedent("\n".join(lines)).replace("``", "`")
    if section == "Example" or (not section and lines[0].startswith("    ")):
        yield from ("```text", *text.splitlines(), "```")
    elif section in ("Args", "Attributes", "Raises"):
        for entry in re.split(r"\n(?=\S)", text):
            name, _, words = entry.partition(":")
            names = ", ".join(f"`{each}`" for each in name.split(", "))
            begin, hang = ("Raises ", "") if section == "Raises" else ("- ", "  ")
            yield from textwrap.wrap(f"{begin}{names}: {' '.join(words.split())}", WIDTH, subsequent_indent=hang)
    else:
        words = " ".join(text.split())
        yield from textwrap.wrap(f"Returns: {words}" if section == "Returns" else words, WIDTH)
    yield ""


def main() -> None:
    """Write the reference into the manual."""
    CHAPTER.write_text(rewritten(CHAPTER.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
