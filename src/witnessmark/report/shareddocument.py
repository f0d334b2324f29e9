"""What several electrical findings share, as JSON: its shape, field by field. Part of an answer's document."""

from __future__ import annotations

from typing import Annotated, TypedDict

__all__ = [
    "AmongAllDocument",
    "NotWeighedDocument",
    "PartingDocument",
    "SharedDocument",
    "SharedSiteDocument",
    "SharedWayDocument",
    "SharedWeightDocument",
]

Finding = Annotated[str, "Its id; “implied” where it only follows from the others"]


class SharedWayDocument(TypedDict):
    """One way in which a place may have failed."""

    way: Annotated[str, "open, resistance, short, loose, wet, itself, driver, silent, leak or blocked"]
    to: Annotated[str, "Of a short: ground, supply or neighbour; else empty"]
    probability: Annotated[float, "Of all places and ways"]
    variable: Annotated[str, "State variable of the size; empty where there is no size"]
    size: Annotated[float | None, "Middle of its size"]
    low: Annotated[float | None, "5 % of its size"]
    high: Annotated[float | None, "95 % of its size"]


class SharedWeightDocument(TypedDict):
    """What one finding says of a place against a sound engine."""

    finding: Finding
    decibans: float
    nodes: Annotated[list[str], "The nodes it speaks of, the nearest first"]


class SharedSiteDocument(TypedDict):
    """One node, connector, harness or zone."""

    site: Annotated[str, "Id of the node; connector:…, harness:… or zone:… with its name"]
    kind: str
    words: str
    nodes: Annotated[list[str], "The nodes that fail with it"]
    probability: Annotated[float, "With the other places, several and nothing it adds up to 1"]
    ways: list[SharedWayDocument]
    weights: list[SharedWeightDocument]
    explains: Annotated[list[Finding], "What is off and follows from it"]
    unexplained: Annotated[list[Finding], "What is off and does not"]
    silent: Annotated[list[Finding], "What is well and should not be"]
    alike: Annotated[list[str], "Other places that no finding parts from it"]


class PartingDocument(TypedDict):
    """One reading that parts the first place from a rival."""

    rival: str
    quantity: str
    place: dict[str, str | int]
    condition: dict[str, str | float]
    test: Annotated[str, "Id of the catalogue's test or intervention; empty where none holds it"]
    minutes: float
    unit: str
    first: Annotated[float, "What it should read if the first is the cause; of yes or no the chance of yes"]
    first_sd: float
    second: Annotated[float, "And if the rival is"]
    second_sd: float
    right: Annotated[float, "Chance that it names the right one of the two"]
    before: Annotated[float, "Share of the first of the two before it"]


class AmongAllDocument(TypedDict):
    """How the first place stands among all hypotheses of the answer."""

    node: Annotated[str, "The place itself; of a connector, a harness or a zone the likeliest of its nodes"]
    hypotheses: Annotated[list[str], "Whose single fault sits there"]
    groups: list[str]
    probability: Annotated[float, "Of these hypotheses together"]
    leads: Annotated[bool, "Whether the likeliest fault of the answer is one of them"]


class NotWeighedDocument(TypedDict):
    """A finding that the ranking left out."""

    finding: Finding
    reason: str


class SharedDocument(TypedDict):
    """What electrical findings share. The chances hold if the cause lies along the supplies, or there is none."""

    sites: Annotated[list[SharedSiteDocument], "The likeliest first; the least likely are left out"]
    several: Annotated[float, "Two separate faults or more"]
    separate: Annotated[list[str], "The nodes that would then have one"]
    nothing: Annotated[float, "Nothing wrong along the supplies"]
    tests: list[PartingDocument]
    among_all: AmongAllDocument
    not_weighed: list[NotWeighedDocument]
    untold: Annotated[list[str], "What the description cannot tell"]
