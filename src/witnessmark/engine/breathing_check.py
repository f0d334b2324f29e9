"""What cannot be among the sizes of cylinders, valves and air."""

from __future__ import annotations

import math
from collections.abc import Iterator

from witnessmark.engine.breathing import Breathing, CylinderSizes, ValveTiming
from witnessmark.engine.complaint import Complaint
from witnessmark.engine.number import Number

__all__ = ["breathing_complaints"]

_BADGE = 0.04  # share by which a displacement on a badge may differ from bore and stroke: rounded to a tenth of a litre
_LEAST_OPEN_DEG, _MOST_OPEN_DEG = 100.0, 400.0


def breathing_complaints(breathing: Breathing, cylinders: int) -> Iterator[Complaint]:
    """Contradictions in what is described of cylinders, valves and air.

    Parameters
    ----------
    breathing : Breathing
    cylinders : int
    """
    yield from _sizes(breathing.cylinder, cylinders)
    for valve in breathing.valves:
        yield from _timing(valve)


def _sizes(sizes: CylinderSizes, cylinders: int) -> Iterator[Complaint]:
    bore, stroke, rod, offset = (n.exact for n in (sizes.bore_mm, sizes.stroke_mm, sizes.rod_mm, sizes.pin_offset_mm))
    if rod is not None and stroke is not None and rod <= 0.5 * stroke + abs(offset or 0.0):
        yield Complaint(
            "cylinder.rod_mm",
            f"a rod of {rod:g} mm cannot turn a stroke of {stroke:g} mm",
            f"more than {0.5 * stroke + abs(offset or 0.0):g} mm",
        )
    said = sizes.displacement_l.exact
    if None not in (bore, stroke, said):
        assert bore is not None and stroke is not None and said is not None
        litres = cylinders * math.pi / 4.0 * bore**2 * stroke * 1e-6
        if abs(litres / said - 1.0) > _BADGE:
            yield Complaint(
                "cylinder.displacement_l",
                f"{said:g} L do not go with {cylinders} cylinders of {bore:g} x {stroke:g} mm",
                f"{litres:.2f} L",
            )


def _ends(number: Number) -> tuple[float, float] | None:
    """Least and greatest value of what is known."""
    if number.values:
        return min(number.values), max(number.values)
    return (number.low, number.high) if number.low is not None and number.high is not None else None


def _timing(valve: ValveTiming) -> Iterator[Complaint]:
    opens, shuts = _ends(valve.opens_before_deg), _ends(valve.shuts_after_deg)
    if opens is not None and shuts is not None:
        least, most = opens[0] + 180.0 + shuts[0], opens[1] + 180.0 + shuts[1]
        if most < _LEAST_OPEN_DEG or least > _MOST_OPEN_DEG:
            yield Complaint(
                f"valves.{valve.kind}",
                f"open for {least:g}° of crank" if least == most else f"open for {least:g} to {most:g}° of crank",
                f"{_LEAST_OPEN_DEG:g} to {_MOST_OPEN_DEG:g}°",
            )
    at, lift = valve.at_lift_mm.exact, valve.lift_mm.exact
    if at is not None and lift is not None and at >= lift > 0.0:
        yield Complaint(
            f"valves.{valve.kind}.at_lift_mm",
            f"events counted at {at:g} mm of a lift of {lift:g} mm",
            f"below {lift:g} mm",
        )
