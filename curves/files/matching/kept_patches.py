"""The table of matched patches that a scan keeps: known densities beside the scan's own.

Another strip of the same film, scanned with the same settings, is matched by the same table.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np

from curves.errors import RecordError
from curves.files.matching.known_densities import SCANNED, read_known_densities
from curves.sensitometry.core.units import LAYERS
from curves.sensitometry.matching.matched_patches import MatchedPatches

_DECIMALS = 4


def kept_patches_text(patches: MatchedPatches, *, assumed: bool) -> str:
    """Return the table of matched patches (CSV).

    Args:
        patches: the patches.
        assumed: True if the uncertainty of the known densities is assumed; the table then gives none.
    """
    given = [] if assumed else ["uncertainty"]
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["patch", *LAYERS, *given, *SCANNED])
    for row, name in enumerate(patches.names):
        numbers = [*patches.known[row], *([] if assumed else [patches.known_error[row]])]
        numbers += [*patches.scanned[row], *patches.scanned_error[row], *patches.common_error[row]]
        table.writerow([name, *(f"{round(float(x), _DECIMALS):g}" for x in numbers)])
    return text.getvalue()


def check_kept_patches(patches: MatchedPatches, path: Path) -> None:
    """Read a table of matched patches, and refuse the table if the patches that were meant do not come back.

    Raises:
        RecordError: the table cannot be understood, or a patch does not come back.
    """
    found = read_known_densities(path)
    meant = np.hstack([patches.known, patches.scanned])
    read = np.hstack([found.known, found.patches[:, :3]])
    order = [found.names.index(name) if name in found.names else -1 for name in patches.names]
    if -1 in order or not np.allclose(read[order], meant, atol=10.0**-_DECIMALS):
        raise RecordError("a patch would be lost or changed", where=path.name)
