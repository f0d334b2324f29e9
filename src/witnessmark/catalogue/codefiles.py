"""Families of codes, as ``data/codes/*.toml`` write them, told out one code each.

A family is what several codes have in common; a code of it names what is its own. ``at`` repeats a family at other
places (so many numbers further on), ``each`` at every cylinder or every letter. Form of the files: docs/codes.md.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any

__all__ = ["CIRCUITS", "CROSSINGS", "FILES", "KIND_WORDS", "MONITORS", "NEEDS", "SYSTEMS", "family_rows", "told_rows"]

FILES = ("drive", "fuel", "air", "ignition", "exhaust", "electrical")
"""Files of ``data/codes``, the timing drive's first."""

SYSTEMS = ("timing_drive", "air", "fuel", "ignition", "exhaust", "electrical", "oil", "engine")
"""Systems that codes belong to."""

MONITORS = (
    "misfire",
    "fuel_system",
    "components",
    "catalyst",
    "heated_catalyst",
    "evaporation",
    "secondary_air",
    "air_conditioning",
    "oxygen_sensor",
    "oxygen_heater",
    "recirculation",
)
"""Groups of monitors whose readiness a computer reports (SAE J1979, service 01, PID 01)."""

NEEDS = ("warm", "cold_start", "cold_soak", "closed_loop", "catalyst_warm", "fuel_level", "two_trips")
"""What a monitor may wait for, besides its operating state."""

CROSSINGS = ("low", "high", "off")
"""On which side of its limit a quantity has to be: under it, above it, either way."""

CIRCUITS = ("signal", "driver", "fed")
"""Circuits a code may watch: a sensor's signal, an actuator's driver, volts behind a supply."""

_LETTERS = "ABCDEFGHIJKL"
_MOST_CYLINDERS = 12
_TAIL = re.compile(r"(.*?)(\d+)")

# Words of a kind behind the name of what it is about; a driver's circuit is no signal.
KIND_WORDS: Mapping[str, Mapping[str, str]] = {
    "signal": {
        "circuit": "circuit",
        "performance": "signal implausible",
        "low": "signal low",
        "high": "signal high",
        "intermittent": "signal comes and goes",
        "no_signal": "no signal",
    },
    "driver": {
        "circuit": "circuit",
        "open": "circuit open",
        "low": "circuit low",
        "high": "circuit high",
        "performance": "does not do what it is told",
        "intermittent": "circuit comes and goes",
    },
    "fed": {"open": "circuit", "low": "too few volts", "high": "too many volts"},
}
"""What a kind of code says, by kind of circuit."""


def family_rows() -> list[dict[str, Any]]:
    """All families of the data files, as written.

    Returns
    -------
    list of dict
    """
    folder = files("witnessmark").joinpath("data/codes")
    texts = (folder.joinpath(f"{name}.toml").read_text(encoding="utf-8") for name in FILES)
    return [family for text in texts for family in tomllib.loads(text)["family"]]


def told_rows(family: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """The codes of a family, each with all that is said of it.

    Parameters
    ----------
    family : mapping

    Yields
    ------
    dict
        Arguments of :class:`witnessmark.catalogue.codes.Code`.
    """
    common = {key: value for key, value in family.items() if key not in ("at", "each", "step", "codes")}
    own = {name: {"kind": one} if isinstance(one, str) else one for name, one in family["codes"].items()}
    kinds = {one["kind"] for one in own.values()}
    for where in _places(family):
        plus, keys = where["plus"], {key: value for key, value in where.items() if key != "plus"}
        for name, one in own.items():
            said = {**common, **keys, **one}
            if "words" not in one:
                said["words"] = _worded(said)
            yield _row(_further(name, plus), said, alone=not {"low", "high"} & kinds)


def _places(family: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Where a family is repeated: so many numbers further on, and what is another there."""
    if "at" in family:
        return list(family["at"])
    if "each" not in family:
        return [{"plus": 0}]
    step, number = family["step"], range(1, _MOST_CYLINDERS + 1)
    if family["each"] == "cylinder":
        return [{"plus": step * (k - 1), "cylinder": k} for k in number]
    return [{"plus": step * (k - 1), "cylinder": k, "side": _LETTERS[k - 1]} for k in number]


def _further(name: str, plus: int) -> str:
    """A code so many numbers further on; its last decimal digits count."""
    found = _TAIL.fullmatch(name)
    if found is None:  # ends in a letter
        assert plus == 0, name
        return name
    return f"{found[1]}{int(found[2]) + plus:0{len(found[2])}d}"


def _row(name: str, said: dict[str, Any], *, alone: bool) -> dict[str, Any]:
    keys = {key: str(said.get(key, "")) for key in ("bank", "side", "sensor", "cylinder")}
    place = tuple((key, _filled(value, keys)) for key, value in said.get("place", {}).items())
    numbers: dict[str, Any] = {key: said[key] for key in ("bank", "sensor", "cylinder", "side") if key in said}
    return {
        "id": name,
        "kind": said["kind"],
        "of": said["of"],
        "words": str(said["words"]).format(**keys),
        "system": said["system"],
        "part": str(said.get("part", "")).format(**keys),
        "circuit": str(said.get("circuit", "")),
        "quantity": str(said.get("quantity", "")),
        "place": place,
        "crossing": str(said.get("crossing", "")),
        "against": str(said.get("against", "")),
        "limit": str(said.get("limit", "")),
        "states": tuple(said.get("states", ())),
        "needs": tuple(said.get("needs", ())),
        "monitor": str(said.get("monitor", "")),
        "share": float(said.get("share", 1.0)),
        "alone": alone,
        **numbers,
    }


def _worded(said: Mapping[str, Any]) -> str:
    """The family's name and the words of the kind behind it, where its circuit has some."""
    behind = KIND_WORDS.get(str(said.get("circuit", "")), {}).get(str(said["kind"]))
    return f"{said['words']}: {behind}" if behind else str(said["words"])


def _filled(value: object, keys: Mapping[str, str]) -> str | int:
    if not isinstance(value, str):
        return int(str(value))
    told = value.format(**keys)
    return int(told) if told.isdigit() else told
