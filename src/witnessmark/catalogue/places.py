"""Where on an engine a fault may sit: every part of its own graphs, by what the fault files call their kind."""

from __future__ import annotations

from dataclasses import replace

from witnessmark.catalogue import driveplaces
from witnessmark.catalogue.driveplaces import shaft_words, stage_words
from witnessmark.catalogue.placeof import PlaceOf
from witnessmark.engine.types import Engine
from witnessmark.errors import one_of

__all__ = ["PlaceOf", "place_kinds", "places_of", "shaft_words", "stage_words"]


def places_of(engine: Engine, kind: str, needs: str | None = None) -> tuple[PlaceOf, ...]:
    """All places of a kind.

    Parameters
    ----------
    engine : Engine
        With its drive described.
    kind : str
        One of :func:`place_kinds`, or several parted by ", ".
    needs : str, optional
        "phaser" keeps cams that may have one; "reluctance" sensors that may be of that kind; anything else scales the
        chance that the part is there at all (:data:`witnessmark.catalogue.engineplaces.NEEDS`).

    Returns
    -------
    tuple of PlaceOf

    Raises
    ------
    InputError
        For another kind, or another need.
    """
    found = [place for one in kind.split(", ") for place in _of_one_kind(engine, one)]
    if needs == "phaser":
        return tuple(place for place in found if place.phaser_range_deg is not None)
    if needs == "reluctance":
        return tuple(place for place in found if _may_be_reluctance(engine, place.id))
    return tuple(found) if needs is None else _as_likely(engine, found, needs)


def place_kinds() -> tuple[str, ...]:
    """All kinds of place that :func:`places_of` knows.

    Returns
    -------
    tuple of str
    """
    # Only who asks for a part outside the drive reads what is outside it.
    from witnessmark.catalogue import electricplaces, engineplaces

    return (*driveplaces.BUILDERS, *engineplaces.BUILDERS, *electricplaces.BUILDERS)


def _of_one_kind(engine: Engine, kind: str) -> list[PlaceOf]:
    build = driveplaces.BUILDERS.get(kind)
    if build is None:
        from witnessmark.catalogue import electricplaces, engineplaces

        build = engineplaces.BUILDERS.get(kind) or electricplaces.BUILDERS.get(kind)
    if build is None:
        raise one_of("kind of place", kind, place_kinds())
    return build(engine)


def _as_likely(engine: Engine, found: list[PlaceOf], needs: str) -> tuple[PlaceOf, ...]:
    from witnessmark.catalogue.engineplaces import NEEDS

    if needs not in NEEDS:
        raise one_of("need", needs, ("phaser", "reluctance", *NEEDS))
    chance = NEEDS[needs](engine)
    return tuple(replace(place, presence=place.presence * chance) for place in found) if chance > 0.0 else ()


def _may_be_reluctance(engine: Engine, wheel: str) -> bool:
    described = engine.wheel(wheel)
    return described is None or described.sensor_kind in (None, "reluctance")
