"""What a description leaves open of air and fuel, as kinds of engine with odds: meter or pressure, charger, injection.

Such a choice is no spread about a mean: an engine has the one or the other, and what a leak does to its trims depends
on which. So findings that it bears on are weighed on each kind (docs/reasoning.md, "engines that the description
allows").
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Any

from witnessmark.engine.types import Engine

__all__ = ["AIR_KINDS", "AirKind", "air_kinds"]


@dataclass(frozen=True, slots=True)
class AirKind:
    """One open choice.

    Parameters
    ----------
    number : str
        What the forward models call its odds: "air:speed_density".
    field : str
        Of :class:`witnessmark.engine.breathing.Air`.
    values : tuple of (str, float, str)
        Value, odds (our guess) and how it is said.
    """

    number: str
    field: str
    values: tuple[tuple[str, float, str], ...]


AIR_KINDS = (
    AirKind(
        "air:speed_density", "metering", (("air_meter", 0.5, "by an air meter"), ("speed_density", 0.5, "by pressure"))
    ),
    AirKind("air:boost", "boost", (("none", 0.65, "no charger"), ("turbo", 0.35, "a turbocharger"))),
    AirKind("fuel:direct", "injection", (("port", 0.6, "into the ports"), ("direct", 0.4, "into the cylinders"))),
)


def air_kinds(engine: Engine, bearing: Collection[str]) -> list[tuple[Engine, float, tuple[tuple[str, str], ...]]]:
    """The kinds of engine that a description allows.

    Parameters
    ----------
    engine : Engine
    bearing : collection of str
        Open numbers that bear on what was found; choices that do not are left open.

    Returns
    -------
    list of (engine, odds [-], what was taken)
        Odds sum to 1.
    """
    found: list[tuple[Engine, float, tuple[tuple[str, str], ...]]] = [(engine, 1.0, ())]
    for kind in AIR_KINDS:
        if getattr(engine.breathing.air, kind.field) is not None or kind.number not in bearing:
            continue
        found = [
            (_with(one, kind.field, value), odds * p, (*taken, (f"air.{kind.field}", words)))
            for one, odds, taken in found
            for value, p, words in kind.values
        ]
    return found


def _with(engine: Engine, field: str, value: str) -> Engine:
    said: dict[str, Any] = {field: value}
    air = replace(engine.breathing.air, **said)
    return replace(engine, breathing=replace(engine.breathing, air=air))
