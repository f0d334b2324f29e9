"""What is wrong with a file of faults, by its structure alone: names that do not exist, and what no fault may say.

A fault names state variables and nothing else: what it would show is for physics to say. Whether some test sees it, and
parts it from the others, takes predictions and stands on a higher floor (:mod:`witnessmark.infer.visible`).
"""

from __future__ import annotations

import hashlib
import itertools
import json
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from importlib.resources import files
from typing import Any

from witnessmark.catalogue.engineplaces import NEEDS
from witnessmark.catalogue.faultrows import SYSTEMS, FaultRow
from witnessmark.catalogue.places import place_kinds
from witnessmark.catalogue.works import jobs
from witnessmark.engine.state import state_variables
from witnessmark.vocabulary import quantities

__all__ = ["lint_catalogue", "lint_faults", "row_digest", "same_edits"]

# A trouble code: the letter of its system, a digit 0 to 3, three hexadecimal ones (SAE J2012, from memory).
_CODE = re.compile(r"\b[PBCU][0-3][0-9A-F]{3}\b")
_OPERATIONS = ("add", "multiply", "set")
_NEEDS = ("phaser", "reluctance", *NEEDS)
_ONSET = frozenset("SLWIhcwvlf")
_FACTORS = frozenset("akow")
_MINUTES = frozenset("ABCDEFH")
_KEYS = frozenset(
    {"id", "words", "place", "needs", "edit", "onset", "prior", "shares", "factors", "together", "repair", "cures"}
)


def lint_catalogue() -> Mapping[str, tuple[str, ...]]:
    """What is wrong with the files of the product, by system.

    Returns
    -------
    mapping of str to tuple of str
        Systems with something wrong; empty where all is well.
    """
    found = {}
    for system in SYSTEMS:
        text = files("witnessmark").joinpath(f"data/faults/{system}.toml").read_text(encoding="utf-8")
        if said := lint_faults(text):
            found[system] = said
    return found


def lint_faults(text: str) -> tuple[str, ...]:
    """What is wrong with a file of faults.

    Parameters
    ----------
    text : str
        TOML, as ``data/faults/air.toml``.

    Returns
    -------
    tuple of str
        A line each, empty where all is well: a quantity or a code named (in comments too), an unknown variable,
        operation, kind of place or need, an unknown job in ``cures``, a size beyond the variable's bounds, a prior,
        onset, factor, minutes or success that cannot be.
    """
    table = tomllib.loads(text)
    found = [*_symptoms(text, table)]
    for row in table.get("fault", []):
        found += [f"{row.get('id', 'a fault without id')}: {line}" for line in _row(row)]
    return tuple(found)


def row_digest(row: FaultRow) -> str:
    """What a row does to an engine, as eight hexadecimal digits: its id, place, need and edits.

    Parameters
    ----------
    row : FaultRow

    Returns
    -------
    str
        Prior, words and repair do not change it.
    """
    said = json.dumps([row.id, row.place, row.needs, [dict(edit) for edit in row.edits]], sort_keys=True)
    return hashlib.sha256(said.encode()).hexdigest()[:8]


def same_edits(rows: Sequence[FaultRow]) -> tuple[tuple[str, str, str], ...]:
    """Rows that edit the same variables at the same kind of place, with sizes in common, and differ in their repair.

    Parameters
    ----------
    rows : sequence of FaultRow

    Returns
    -------
    tuple of (place, id, id)
        Whatever the engine, no reading parts them where their sizes meet: a look does, or the repair.
    """
    found = []
    for one, other in itertools.combinations(rows, 2):
        places = [kind for kind in one.place.split(", ") if kind in other.place.split(", ")]
        if one.repair.job == other.repair.job or not places or len(one.edits) != len(other.edits):
            continue
        edits = {_spot(edit): edit for edit in one.edits}
        if all(_spot(edit) in edits and _meet(edits[_spot(edit)], edit) for edit in other.edits):
            found.append((places[0], one.id, other.id))
    return tuple(found)


def _spot(edit: Mapping[str, Any]) -> tuple[str, str, str]:
    # Setting something to nothing and multiplying it by a range from nothing are one edit at that end.
    return str(edit["variable"]), str(edit.get("at", "")), str(edit.get("to", ""))


def _meet(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether what two edits make of a sound part overlaps."""
    return any(a[0] <= b[1] + 1e-12 and b[0] <= a[1] + 1e-12 for a in _after(one) for b in _after(other))


def _after(edit: Mapping[str, Any]) -> list[tuple[float, float]]:
    """From and to, of what a variable comes to: for each sign and whole step one."""
    healthy, op = state_variables()[str(edit["variable"])].healthy, edit["op"]
    sizes = [(s, s) for s in _sizes(edit)] if "low" not in edit else [(float(edit["low"]), float(edit["high"]))]
    signs = {"-": (-1.0,), "+-": (1.0, -1.0), "opposite": (1.0, -1.0)}.get(str(edit.get("signs", "+")), (1.0,))
    base, scale = {"add": (healthy, 1.0), "multiply": (0.0, healthy), "set": (0.0, 1.0)}[str(op)]
    ends = [(base + scale * sign * a, base + scale * sign * b) for a, b in sizes for sign in signs]
    return [(min(pair), max(pair)) for pair in ends]


def _symptoms(text: str, table: Mapping[str, Any]) -> Iterator[str]:
    yield from (f"names the code {code}" for code in _CODE.findall(text))
    measured = set(quantities())
    # A quantity's name with an underscore in it is never plain English: refused in comments and prose too.
    compound = {name for name in measured if "_" in name}
    yield from (f"names the quantity {word}" for word in re.findall(r"\w+", text) if word in compound)
    yield from (f"names the quantity {word}" for word in _words(table) if word in measured - compound)


def _words(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from _words(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _words(inner)


def _row(row: Mapping[str, Any]) -> Iterator[str]:
    yield from (f"unknown key {key}" for key in sorted(set(row) - _KEYS))
    yield from _missing(row, ("id", "words", "place", "edit", "onset", "prior", "repair", "cures"))
    kinds = [kind for kind in str(row.get("place", "")).split(", ") if kind not in place_kinds()]
    yield from (f"unknown kind of place {kind!r}" for kind in kinds)
    if row.get("needs") not in (None, *_NEEDS):
        yield f"unknown need {row['needs']!r}"
    if not row.get("edit"):
        yield "edits nothing"
    for edit in row.get("edit", []):
        yield from _edit(edit)
    if not set(row.get("onset", "")) <= _ONSET or not row.get("onset"):
        yield f"onset {row.get('onset')!r} is not letters of SLWI and hcwvlf"
    if not 0.0 < float(row.get("prior", 0.0)) <= 1000.0:
        yield f"prior {row.get('prior')} is no count of a thousand"
    yield from (f"unknown factor {key!r}" for key in sorted(set(row.get("factors", {})) - _FACTORS))
    yield from (f"factor {key} = {value} is not above 0" for key, value in row.get("factors", {}).items() if value <= 0)
    yield from _repair(row.get("repair", {}))
    known = jobs()
    yield from (f"unknown job {part!r} in cures" for part in row.get("cures", []) if part not in known)


def _missing(table: Mapping[str, Any], keys: Iterable[str]) -> Iterator[str]:
    yield from (f"{key} is missing" for key in keys if key not in table)


def _repair(fix: Mapping[str, Any]) -> Iterator[str]:
    yield from _missing(fix, ("job", "cause", "minutes", "success", "words"))
    if fix.get("minutes") not in _MINUTES:
        yield f"unknown class of minutes {fix.get('minutes')!r}"
    if not 0.0 < float(fix.get("success", 0.0)) < 100.0:
        yield f"success of {fix.get('success')} %: between 0 and 100"


def _edit(edit: Mapping[str, Any]) -> Iterator[str]:
    name, op = edit.get("variable"), edit.get("op")
    row = state_variables().get(str(name))
    if row is None:
        yield f"edits {name!r}, which is no state variable"
        return
    if op not in _OPERATIONS:
        yield f"operation {op!r}; it is one of {_OPERATIONS}"
        return
    if sum(("low" in edit, "value" in edit, "whole" in edit)) != 1:
        yield f"{name} needs one of low and high, value, or whole"
        return
    yield from _shares(str(name), edit)
    sizes = _sizes(edit)
    signs = {"-": (-1.0,), "+-": (1.0, -1.0), "opposite": (1.0, -1.0)}.get(str(edit.get("signs", "+")), (1.0,))
    for size in (sign * size for size in sizes for sign in signs):
        after = {"add": row.healthy + size, "multiply": row.healthy * size, "set": size}[op]
        # A fault adds to what is healthy, and the healthy mean may stand off zero.
        if not row.low - 1e-9 <= after <= (row.high + max(row.healthy, 0.0)) * (1.0 + 1e-9):
            yield f"{name} would come to {after:g}, beyond {row.low:g} to {row.high:g}"
    if "low" in edit and not edit["low"] < edit.get("high", edit["low"]):
        yield f"{name} from {edit['low']} to {edit.get('high')}: not a range"


def _shares(name: str, edit: Mapping[str, Any]) -> Iterator[str]:
    """Shares are those of one fault: whole steps make it up together, and nothing has less than none of it."""
    steps = [float(share) for _, share in edit.get("whole", [])]
    yield from (f"a whole step of {name} has a share of {share:g}" for share in steps if share < 0.0)
    if steps and abs(sum(steps) - 1.0) > 1e-9:
        yield f"shares of the whole steps of {name} sum to {sum(steps):g}, not to 1"
    ways = [float(share) for share in edit.get("to", {"": 1.0}).values()]
    if not ways or min(ways) < 0.0 or abs(sum(ways) - 1.0) > 1e-9:
        yield f"shares of where {name} leads sum to {sum(ways):g}, not to 1"
    if not 0.0 <= float(edit.get("at_rest", 0.0)) <= 1.0:
        yield f"{name} rests in a share of {edit['at_rest']}: 0 to 1"


def _sizes(edit: Mapping[str, Any]) -> tuple[float, ...]:
    if "whole" in edit:
        return tuple(float(size) for size, _ in edit["whole"])
    return (float(edit["low"]), float(edit.get("high", edit["low"]))) if "low" in edit else (float(edit["value"]),)
