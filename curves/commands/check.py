"""``curves check``: do files load, and what in them is doubtful?"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from curves.commands.help_groups import OUTPUT
from curves.commands.options import Json, option_of
from curves.files.imports.readers import formats

if TYPE_CHECKING:
    from curves.app.file_check import FileCheck


def check(
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILE",
            help=f"Records (.toml), scans, entries, tables ({formats()}); or folders of them, with the folders below.",
        ),
    ],
    full: Annotated[
        bool, typer.Option("--full", help="List the good files of a folder too.", rich_help_panel=OUTPUT)
    ] = False,
    as_json: Json = False,
) -> None:
    """Check that every file loads, and print what in it is suspicious.

    The good files of a folder are counted, not listed. Exit status 1 if any file fails; a record whose readings are
    still to be entered does not.

    Example: curves check wedge_data
    """
    from curves.app.file_check import FileCheck, check_file, files_in
    from curves.errors import EmptyRecordError, RecordError, visible

    checked, named = [], {given for given in files if not given.is_dir()}
    for given in files:
        found = files_in(given)
        checked += [check_file(path) for path in found]
        if not found:
            nothing = RecordError("the folder holds no record (.toml) and no table (.csv)", where=str(given))
            checked.append(FileCheck(given, nothing))
    empty = sum(isinstance(c.error, EmptyRecordError) for c in checked)
    failed = sum(c.error is not None for c in checked) - empty
    if as_json:
        print(json.dumps({"format": 1, "files": [_content(c) for c in checked]}, indent=2, ensure_ascii=False))
    else:
        from curves.views.text.strip import checked_text

        for one in checked:
            if full or one.path in named or one.error is not None or one.doubts:
                name = visible(str(one.path))
                print(checked_text(name, one.error, one.doubts, option_of, one.other_than_strip))
        doubtful = sum(c.error is None and bool(c.doubts) for c in checked)
        counted = "1 file" if len(checked) == 1 else f"{len(checked)} files"
        without = f", {empty} without readings" if empty else ""
        good = len(checked) - failed - empty - doubtful
        print(f"{counted}: {good} good, {doubtful} doubtful, {failed} fail{without}.")
    if failed:
        raise typer.Exit(1)


def _content(checked: FileCheck) -> dict[str, Any]:
    from curves.errors import EmptyRecordError
    from curves.files.results.content import notice

    error = checked.error
    content: dict[str, Any] = {
        "file": str(checked.path),
        "loads": error is None,
        "empty": isinstance(error, EmptyRecordError),
    }
    if checked.error is not None:
        content["error"] = checked.error.in_words(option_of)
    return content | {"doubts": [notice(n) for n in checked.doubts]}
