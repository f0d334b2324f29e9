"""One place on an engine that a fault may befall."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["ALL", "PlaceOf", "together"]

ALL = "all"
"""Id and scope of all parts of one kind, as a set."""

_OF_CYLINDER = re.compile(r"^(?:cylinder|coil|injector)_(\d+(?:-\d+)?)")


@dataclass(frozen=True, slots=True)
class PlaceOf:
    """One place a fault may befall.

    Parameters
    ----------
    key, id : str
        Place key and value as in findings: ("wheel", "crank").
    words : str
        For people: "crank wheel".
    scope, scope_words : str
        What one repair covers.
    zones : frozenset of str
        Which work comes near it (``data/works.toml``).
    state_ids : tuple of (name, ids)
        Where edits apply: "self" and named others.
    presence : float [-]
        Chance that the part exists.
    phaser_range_deg : float, optional [deg]
        Range of the phaser there, + = advance.
    keyed : bool, optional
        Whether a key or dowel holds it on its shaft.
    weight : float [-]
        Against the other places of its kind: its share of what befalls them.
    """

    key: str
    id: str
    words: str
    scope: str
    scope_words: str
    zones: frozenset[str]
    state_ids: tuple[tuple[str, tuple[str, ...]], ...]
    presence: float = 1.0
    phaser_range_deg: float | None = None
    keyed: bool | None = None
    weight: float = 1.0

    @property
    def cylinders(self) -> tuple[int, ...]:
        """Cylinders that a part belongs to: its own, or the two it stands between; none where it is no cylinder's."""
        own = _OF_CYLINDER.search(self.scope)
        return tuple(int(number) for number in own.group(1).split("-")) if own is not None else ()

    def targets(self, at: str) -> tuple[str, ...]:
        """State place ids an edit applies to.

        Parameters
        ----------
        at : str
            "self", "chain_of_mesh", "both_cams", "injector" …

        Returns
        -------
        tuple of str
        """
        return dict(self.state_ids)[at]

    def has(self, at: str) -> bool:
        """Whether an edit can apply there.

        Parameters
        ----------
        at : str

        Returns
        -------
        bool
        """
        return any(name == at for name, _ in self.state_ids)


def together(places: Sequence[PlaceOf], words: str) -> PlaceOf:
    """All places of one kind as one: parts that wear, or are wrong, as a set.

    Parameters
    ----------
    places : sequence of PlaceOf
        At least one.
    words : str
        For people: "all cylinders".

    Returns
    -------
    PlaceOf
        Its id is "all", of learnt items "fuel_trim:all".
    """
    first = places[0]
    # What they share (the engine's oil) is edited once, not once for each.
    ids = {name: tuple(dict.fromkeys(i for p in places for i in p.targets(name))) for name, _ in first.state_ids}
    presence = max(place.presence for place in places)
    stem, colon, _ = first.id.partition(":")
    name = f"{stem}:{ALL}" if colon else ALL
    return PlaceOf(first.key, name, words, name, words, first.zones, tuple(ids.items()), presence)
