"""Every fault of the catalogue as it can be written on one engine: id, places, sizes, and what it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from witnessmark.catalogue.faultrows import SYSTEMS, FaultRow, catalogue
from witnessmark.catalogue.faults import FaultInstance, instances_of
from witnessmark.engine.types import Engine
from witnessmark.report.terminal import Sheet
from witnessmark.report.words import at_start

__all__ = ["fault_list_text"]

_HEADS: Mapping[str, str] = {
    "drive": "Timing drive, wheels, position sensors",
    "cylinder": "Valves and cylinders",
    "air": "Air",
    "exhaust": "Exhaust",
    "sensors": "Sensors",
    "fuel": "Fuel",
    "ignition": "Ignition",
    "electrical": "Electrical",
    "oil": "Oil, coolant, driveline",
    "work": "Previous work",
}
_MOST_PLACES = 6
_OPEN = 1e9


def fault_list_text(engine: Engine, width: int = 80) -> str:
    """All faults that can befall an engine, for a terminal.

    Parameters
    ----------
    engine : Engine
        With its drive described.
    width : int
        Columns.

    Returns
    -------
    str
    """
    page = Sheet(width)
    page.say("A size left out is taken in the middle of its range; × is a factor on what is sound.", first="")
    rows = catalogue(SYSTEMS).rows
    ids = [row.id for row in rows]
    for system, mine in groupby(rows, key=lambda row: row.system):
        there = [(row, found) for row in mine if (found := instances_of(engine, row))]
        if not there:
            continue
        page.blank()
        page.heading(_HEADS[system])
        for row, found in there:
            page.say(_spelt(row, found, alone=ids.count(row.id) == 1), first="  ", rest="      ")
            words = found[0].words if len(found) == 1 else at_start(row.words.replace("{place}", "…"))
            page.say(words, first="      ", rest="      ")
    return page.text()


def _spelt(row: FaultRow, found: Sequence[FaultInstance], *, alone: bool) -> str:
    """The line to fill in: "coil_weak cylinder=1|2|3|4 coil_energy=×0.2..0.8"."""
    parts = [row.id]
    if len(found) > 1 or not alone:  # one id may stand for several kinds of part
        keys = dict.fromkeys(one.where.key for one in found)
        parts += [f"{key}={_places([one.where.id for one in found if one.where.key == key])}" for key in keys]
    ways = dict.fromkeys(kind.way for one in found for kind in one.kinds if kind.way)
    if ways:
        parts.append(f"to={'|'.join(ways)}")
    return " ".join([*parts, *(size for edit in row.edits if (size := _size(edit)))])


def _places(names: Sequence[str]) -> str:
    """All of them, or the first few and the last: a supply graph has dozens."""
    shown = list(names) if len(names) <= _MOST_PLACES else [*names[: _MOST_PLACES - 2], "…", names[-1]]
    return "|".join(shown)


def _size(edit: Mapping[str, Any]) -> str:
    """What may be said of one edit's size; empty where it has none."""
    if "whole" in edit:
        return f"{edit['variable']}=±{'|'.join(f'{step:g}' for step, _ in edit['whole'])}"
    if "low" not in edit:
        return ""
    signs = edit.get("signs", "+")
    minus = "−" if signs == "-" else ""
    ends = "..".join("open" if end >= _OPEN else f"{minus}{end:g}" for end in (edit["low"], edit["high"]))
    before = "×" if edit["op"] == "multiply" else "±" if signs in ("+-", "opposite") else ""
    return f"{edit['variable']}={before}{ends}"
