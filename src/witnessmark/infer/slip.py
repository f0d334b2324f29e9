"""Slips of a typed figure: a point one place off, a unit taken for another; and what the figure would have been.

Only what moves a figure far is told here. A figure that is a little off is what the law of readings is for.
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.errors import UnitError
from witnessmark.finding import Finding
from witnessmark.units import conversion, units_like

__all__ = ["ANYTHING", "MISTYPED", "Slip", "slips_of"]

MISTYPED = 0.01
"""Share of figures that are mistyped or misread before anybody has looked at them again; our guess."""

# Of those that are: shares of each slip, our guess. Common practice, no source: a nought too many or too few and the
# other unit are what a shop sees; two and three places are a forgotten prefix.
_ONE_PLACE, _MORE_PLACES = 0.2, 0.02  # the point one place astray, to either side; two and three
_POINT = {-3: _MORE_PLACES, -2: _MORE_PLACES, -1: _ONE_PLACE, 1: _ONE_PLACE, 2: _MORE_PLACES, 3: _MORE_PLACES}
_UNIT_UNSAID, _UNIT_SAID = 0.3, 0.05  # the figure's unit was left out, or written; spread over the other units
_FEWEST = 4  # where there are fewer, the mistake is rarer too
ANYTHING = 0.2
"""Share of slips that may have come from anywhere: digits exchanged, the wrong line read."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One way a figure may have come about.

    Parameters
    ----------
    kind : str
        "point" or "unit".
    share : float [-]
        Of all slips.
    meant : float
        The figure without the slip, in the finding's unit.
    stretch : float [-]
        What a small step of the figure would be of the one that was meant.
    places : int
        By how many places the point moves to the right.
    unit : str
        The unit that was meant.
    """

    kind: str
    share: float
    meant: float
    stretch: float
    places: int = 0
    unit: str = ""


def slips_of(finding: Finding) -> tuple[Slip, ...]:
    """Every slip that a typed figure may have come from.

    Parameters
    ----------
    finding : Finding
        Of a number.

    Returns
    -------
    tuple of Slip
        Empty for what is counted, and for nought, which no point moves.
    """
    if finding.kind.kind != "number" or finding.value == 0.0:
        return ()
    return (*_points(finding), *_units(finding))


def _typed(finding: Finding) -> tuple[float, str]:
    """The number and unit as typed; where nobody kept them, as the finding has them."""
    source = finding.source
    if source.number is None:
        return finding.value, finding.unit
    return source.number, source.unit or finding.unit


def _points(finding: Finding) -> list[Slip]:
    number, written = _typed(finding)
    factor, offset = _to_kept(written, finding.unit)
    found = []
    for places, share in _POINT.items():
        meant = number * 10.0**places * factor + offset
        found.append(Slip("point", share, meant, 10.0**places, places))
    return found


def _units(finding: Finding) -> list[Slip]:
    number, written = _typed(finding)
    try:
        others = [name for name in units_like(written) if name != written]
    except UnitError:  # a unit outside the table has none that it could be taken for
        return []
    own, _ = _to_kept(written, finding.unit)
    whole = _UNIT_SAID if finding.source.unit else _UNIT_UNSAID
    found = []
    for name in others:
        factor, offset = _to_kept(name, finding.unit)
        if factor != own or offset:  # 1/min and rpm are the same
            found.append(Slip("unit", whole, number * factor + offset, factor / own, unit=name))
    return [_shared(slip, max(len(found), _FEWEST)) for slip in found]


def _shared(slip: Slip, among: int) -> Slip:
    return Slip(slip.kind, slip.share / among, slip.meant, slip.stretch, unit=slip.unit)


def _to_kept(written: str, kept: str) -> tuple[float, float]:
    """Factor and offset to the finding's unit; of a unit outside the table, which is taken as it is, one and nought."""
    if written == kept:
        return 1.0, 0.0
    return conversion(written, kept)
