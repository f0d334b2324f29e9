"""The shape of a supply graph's description, as pydantic models; imported only when one is read."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from witnessmark.engine import written
from witnessmark.engine.field import Origin, Part, absent, numbered
from witnessmark.engine.number import Number

__all__ = ["OHM", "SupplyFile", "SupplyNodeFile"]

OHM = written.Kind("a resistance", 0, 1e9, "ohm")
_LOAD = written.Kind("a load's resistance", 1e-3, 1e9, "ohm")
_AMPS = written.Kind("a current", 1e-6, 100, "A")

Ohm = Annotated[Number, numbered(OHM)]
LoadOhm = Annotated[Number, numbered(_LOAD)]
Amps = Annotated[Number, numbered(_AMPS)]


class SupplyNodeFile(Part):
    """One node of the graph."""

    id: str = Field(min_length=1)
    kind: Literal[
        "battery",
        "wire",
        "splice",
        "pin",
        "fuse",
        "link",
        "relay",
        "ground",
        "reference5",
        "load",
        "module",
        "bus",
        "gallery",
        "branch",
    ]
    feed: str | None = Field(default=None, alias="from", description="What feeds it; of a ground: where it leads.")
    ground: str | None = Field(default=None, description="Where its current returns.")
    driver: str | None = Field(default=None, description="The pin of a module that switches it.")
    signal: str | None = Field(default=None, description="The pin of a module that reads it.")
    coil: str | None = Field(default=None, description="The pin of a module that pulls the relay.")
    connector: str | None = None
    harness: str | None = None
    zone: str | None = None
    beside: list[str] = Field(default_factory=list, description="Its neighbours in a connector or harness.")
    ends: list[str] = Field(default_factory=list, description="The modules on a bus.")
    ohm: Ohm = absent("Of its own path from its feed; of a 5 V source.")
    load_ohm: LoadOhm = absent("Of a load or module itself.")
    limit_amps: Amps = absent("Where a 5 V source gives way.")


class SupplyFile(Part):
    """A supply graph."""

    name: str = ""
    parts: list[str] | None = Field(default=None, description="Parts named without being described.")
    source: Origin = Field(default_factory=lambda: written.INHERITED, description="Where it comes from.")
    node: list[SupplyNodeFile] = Field(min_length=1)
