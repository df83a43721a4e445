"""Which column holds what: the common words for steps and channels in a few languages, never guessed between two."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from functools import lru_cache

from curves.errors import RecordError

_WORDS = {
    "step": "step stufe feld schritt palier plage paso escalon gradino passo stap veld steg step-no no nr num number"
    " nummer numero patch-no",
    "stops": "stops stop blenden blende diaphs",
    "ei": "ei exposure-index belichtungsindex",
    "log_h": "log-h logh log-e loge lg-h lgh log-exposure",
    "red": "red r rot rouge rojo rosso rood rod vermelho",
    "green": "green g grun gruen vert verde groen gron",
    "blue": "blue b blau bleu azul blu blauw bla",
    "visual": "visual vis v visuell visuel visuelle visivo visueel visuel",
    "sample": "sample sample-id sampleid sample-name samplename id name patch probe echantillon muestra campione",
}
_KNOWN = {word.replace("-", " "): target for target, words in _WORDS.items() for word in words.split()}
_ABOUT = frozenset({
    "d", "density", "densities", "dens", "dichte", "densite", "densita", "densidad", "densidade", "densiteit",
    "densitet", "optical", "optische", "optique", "channel", "kanal", "canal", "filter", "layer", "reading",
})  # fmt: skip
"""Words that a channel's name may stand beside without changing what is meant."""

_LETTERS = ("r", "g", "b")
_CHROMATICITY = re.compile(r"[uv]\s*['\u2019\u2032\u00b4]")
"""The names u' and v' of chromaticity, which are not a density."""

_NOT_VISUAL: tuple[frozenset[str], ...] = (frozenset({"u"}), frozenset({"h", "s"}))
"""Letters beside which a column v is a coordinate of colour, not visual density."""

_NUMBERED = ("sample id", "sampleid", "id", "patch no")
"""Names of samples that win over other names of samples; those are then kept as ``name``."""


@lru_cache(maxsize=65536)
def meaning(name: str) -> str | None:
    """Return the meaning of a column's name: step, stops, ei, log_h, sample or a channel; None for any other name.

    Case, accents, signs between words and words such as "density" or "status A" do not matter.
    """
    if _CHROMATICITY.fullmatch(name.strip().casefold()):
        return None
    plain = _plain(name)
    if plain in _KNOWN:
        return _KNOWN[plain]
    rest = re.sub(r"\bstatus [am]\b", " ", plain).split()
    kept = [word for word in rest if word not in _ABOUT]
    found = _KNOWN.get(" ".join(kept)) if len(kept) == 1 else None
    if found in ("red", "green", "blue", "visual"):
        return found
    # "DR", "DG", "DB", "DV": a density's own sign.
    short = re.fullmatch(r"d([rgbv])", plain)
    return _KNOWN[short[1]] if short else None


def columns(names: Sequence[str], chosen: Mapping[str, str], where: str) -> dict[str, int]:
    """Return the columns of a strip's table by meaning, each by its number from 0.

    Where samples have both an identity and a name, the identity is ``sample``, and the name is ``name``.

    Args:
        names: the columns' names, in order.
        chosen: what the person says: what a column holds, and the column's name or its number from 1.
        where: file and line, for errors.

    Raises:
        RecordError: two columns could be meant, or a column of a given name is not there.
    """
    found = {target: _chosen(names, target, name, where) for target, name in chosen.items()}
    candidates: dict[str, list[int]] = {}
    for at, name in enumerate(names):
        target = None if at in found.values() else meaning(name)
        if target is not None and target not in chosen:
            candidates.setdefault(target, []).append(at)
    if "visual" in candidates and any(_plain(names[at]) == "v" for at in candidates["visual"]):
        beside = {_plain(name) for name in names}
        if any(letters <= beside for letters in _NOT_VISUAL) or any(map(_is_chromaticity, names)):
            candidates["visual"] = [at for at in candidates["visual"] if _plain(names[at]) != "v"]
    letters = {_plain(names[at]) for places in candidates.values() for at in places} & set(_LETTERS)
    for target, places in candidates.items():
        if letters and letters != set(_LETTERS):
            # A lone "b" may be anything; r, g and b together are the three layers.
            places = [at for at in places if _plain(names[at]) not in _LETTERS]
        if target == "sample" and len(places) == 2:
            places.sort(key=lambda at: _plain(names[at]) not in _NUMBERED)
            if _plain(names[places[0]]) in _NUMBERED and _plain(names[places[1]]) not in _NUMBERED:
                found["name"] = places.pop()
        if len(places) > 1:
            listed = " and ".join(f"'{names[at]}' (column {at + 1})" for at in places[:4])
            raise RecordError(
                f"{listed} could both be {target}",
                where=where,
                needed="one of them",
                hint="say which column it is",
                settings=(f"columns={target}={places[0] + 1}",),
            )
        if places:
            found[target] = places[0]
    _refuse_a_layer_as_visual(names, found, where)
    return found


def _is_chromaticity(name: str) -> bool:
    return _CHROMATICITY.fullmatch(name.strip().casefold()) is not None


def _refuse_a_layer_as_visual(names: Sequence[str], found: Mapping[str, int], where: str) -> None:
    """Refuse a column of visual density whose name says that it holds a layer's."""
    name = names[found["visual"]] if "visual" in found else ""
    layer, together = meaning(name), set(_LETTERS) <= {_plain(other) for other in names}
    if layer in ("red", "green", "blue") and (_plain(name) not in _LETTERS or together):
        raise RecordError(
            f"'{name}' names {layer} density, which is not visual density",
            where=where,
            needed="the column of visual density, or none: visual density is estimated from red, green and blue",
            settings=(f"columns={layer}={name}",),
        )


def column_number(name: str, width: int) -> int | None:
    """Return the column, from 0, that a text names by its number, from 1; None if the text is not such a number."""
    number = int(name) if re.fullmatch("[0-9]{1,6}", name) else 0
    return number - 1 if 0 < number <= width else None


def _chosen(names: Sequence[str], target: str, name: str, where: str) -> int:
    same = [at for at, there in enumerate(names) if there.strip().casefold() == name.strip().casefold()]
    number = column_number(name, len(names))
    if len(same) == 1:
        return same[0]
    if not same and number is not None:
        return number
    raise RecordError(
        f"{'several columns have' if same else 'no column has'} the name '{name}'",
        where=where,
        needed=f"for {target}, the name of a column, or its number from 1 to {len(names)}",
    )


def _plain(name: str) -> str:
    """Return a name in small letters, without accents, its words separated by single spaces."""
    spread = unicodedata.normalize("NFKD", name.casefold())
    letters = "".join(c for c in spread if not unicodedata.combining(c)).replace("ø", "o")
    return " ".join(re.sub(r"[_\-./()\[\]:\"']+", " ", letters).split())
