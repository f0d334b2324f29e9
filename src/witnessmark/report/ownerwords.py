"""Words for the owner, from ``data/owner``."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from witnessmark.infer.belief import FaultAt

__all__ = ["Caution", "OwnerWords", "owner_words"]


@dataclass(frozen=True, slots=True)
class Caution:
    """What the owner is told where some faults may make it unsafe, or dear, to drive on."""

    faults: tuple[str, ...]
    words: str

    def speaks_of(self, fault: FaultAt) -> bool:
        """Whether a fault calls for it; one that is named with a place only there."""
        return fault.fault in self.faults or any(f"{fault.fault} {place}" in self.faults for _, place in fault.place)


@dataclass(frozen=True, slots=True)
class OwnerWords:
    """Causes by fault, tests by id, systems by name, and cautions."""

    causes: Mapping[str, str]
    systems: Mapping[str, str]
    tests: Mapping[str, str]
    cautions: tuple[Caution, ...]

    def test(self, name: str) -> str:
        """A test in the owner's words; empty for a repair.

        Parameters
        ----------
        name : str
            Id of the catalogue, with or without the place it is done at.
        """
        return self.tests.get(name.partition(":")[0], "")


@cache
def owner_words() -> OwnerWords:
    """The words, read once.

    Returns
    -------
    OwnerWords
    """
    folder = files("witnessmark").joinpath("data", "owner")
    causes, tests = (
        tomllib.loads(folder.joinpath(name).read_text(encoding="utf-8")) for name in ("causes.toml", "tests.toml")
    )
    cautions = tuple(Caution(tuple(one["faults"]), one["words"]) for one in causes["caution"])
    return OwnerWords(causes["causes"], causes["systems"], tests["tests"], cautions)
