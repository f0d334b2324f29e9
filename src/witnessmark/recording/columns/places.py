"""Which one of its kind a column is: bank, sensor, cylinder, track and cam, out of the pieces of its heading."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

from witnessmark.recording.columns.pieces import Piece
from witnessmark.recording.parameters import Signal, parameters

__all__ = ["Place", "heading_place", "signals_at"]

_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4}
_TRACKS = {"throttle": "abc", "pedal": "def"}
# Words of intake and exhaust that are none of a camshaft: "act" is short for the air's temperature, too.
_NO_CAMS = frozenset({"air", "temperature", "pressure", "manifold"})
# Beside an oxygen sensor a short form is more likely to say before or behind the catalyst ("pos", "av").
_ALONG, _EITHER = 0.9, 0.5
# A place that the heading does not name: the first is by far the commonest, where there is one only.
_UNSAID, _OTHER = 0.25, 3.5
# A place that the parameter has not.
_SURPLUS = {"bank": 1.6, "sensor": 1.6, "cylinder": 3.5}


@dataclass(frozen=True, slots=True)
class Place:
    """What a heading says about the place.

    Parameters
    ----------
    bank, sensor, cylinder : int, optional
    along : int, optional
        1 for before, 2 for behind (the catalyst): the sensor where one has to be named.
    cam : str, optional
    letters : tuple of str
        Single letters that are no part of a number's name.
    free : tuple of int
        Numbers that no word explains.
    side : bool
        Left or right is named, which no log can translate, or a short form of both before and behind.
    """

    bank: int | None = None
    sensor: int | None = None
    cylinder: int | None = None
    along: int | None = None
    cam: str | None = None
    letters: tuple[str, ...] = ()
    free: tuple[int, ...] = ()
    side: bool = False


def heading_place(pieces: tuple[Piece, ...]) -> Place:
    """What the pieces of a heading say about the place.

    Parameters
    ----------
    pieces : tuple of Piece

    Returns
    -------
    Place
    """
    place, used = Place(), set[int]()
    says = [_concepts(piece) for piece in pieces]
    speaks_of_oxygen = any("oxygen" in concepts or "lambda" in concepts for concepts in says)
    for i, piece in enumerate(pieces):
        number = piece.number if piece.number is not None else _ROMAN.get(piece.text)
        if number is None:
            continue
        before, letter = says[i - 1] if i else set[str](), pieces[i - 1].text if i else ""
        after = says[i + 1] if i + 1 < len(pieces) else set[str]()
        key = _key(before, letter, speaks_of_oxygen) or (_key(after, "", speaks_of_oxygen) if not before else None)
        if number in (11, 12, 21, 22) and speaks_of_oxygen and key != "cylinder":
            place = replace(place, bank=number // 10, sensor=number % 10)
        elif key is None and piece.number is not None:
            place = replace(place, free=(*place.free, number))
            continue
        elif key is not None and getattr(place, key) is None:
            place = _numbered(place, key, number)
        used |= {i, i - 1} if letter and len(letter) == 1 else {i}
    for i, (piece, concepts) in enumerate(zip(pieces, says, strict=True)):
        if i in used:
            continue
        along = _concepts(piece, within=_ALONG) if speaks_of_oxygen else concepts
        if along & {"upstream", "downstream"} and place.along is None:
            first = _first_of(piece, "upstream", "downstream")
            place = replace(place, along=first, side=place.side or first is None)
        if concepts & {"left", "right"}:
            place = replace(place, side=True)
        if piece.letter is not None and _is_label(pieces, i):
            place = replace(place, letters=(*place.letters, piece.letter))
    sides = [_concepts(piece, without=_NO_CAMS) for piece in pieces]
    cams = [name for name in ("intake", "exhaust") if any(name in concepts for concepts in sides)]
    return replace(place, cam=cams[0] if len(cams) == 1 else None)


def signals_at(parameter: str, place: Place) -> tuple[tuple[Signal, float], ...]:
    """The signals that a column of this parameter can be at this place, and what each costs.

    Parameters
    ----------
    parameter : str
        Its id.
    place : Place

    Returns
    -------
    tuple of (Signal, float)
        The likeliest first; costs in nats.
    """
    row = parameters()[parameter]
    able = (*row.keys, *row.optional)
    free = list(place.free)
    cost = sum(own for key, own in _SURPLUS.items() if getattr(place, key) is not None and key not in able)
    cost += _SURPLUS["sensor"] if place.along is not None and "sensor" not in able else 0.0
    ways: dict[str, list[tuple[int | str | None, float]]] = {}
    for key in able:
        if key == "cam":
            ways[key] = _cams(place)
        elif key == "track":
            ways[key] = _tracks(parameter, place, free)
        else:
            ways[key] = _numbers(key, place, free, needed=key in row.keys, able=able)
    cost += 0.8 * len(free)
    found = []
    for chosen in product(*ways.values()):
        where = {key: value for key, (value, _) in zip(ways, chosen, strict=True) if value is not None}
        found.append((Signal(parameter, **where), cost + sum(own for _, own in chosen)))  # type: ignore[arg-type]
    return tuple(sorted(found, key=lambda each: each[1]))


def _numbers(
    key: str, place: Place, free: list[int], *, needed: bool, able: tuple[str, ...]
) -> list[tuple[int | str | None, float]]:
    said = getattr(place, key)
    if said is None and key == "sensor" and needed:
        said = place.along
    if said is not None:
        return [(said, 0.0)] if 1 <= said <= 16 else [(1 if needed else None, _OTHER)]
    # A lone number is the sensor's where there are sensors, else the bank's.
    takes = key == "sensor" or "sensor" not in able or place.sensor is not None
    if takes and free and 1 <= free[0] <= (4 if key != "cylinder" else 16):
        number = free.pop(0)
        return [(number, 0.3)]
    if not needed:
        return [(None, 0.0)]
    return [(1, _UNSAID + (1.0 if place.side else 0.0)), (2, _UNSAID + 1.0 if place.side else _OTHER)]


def _tracks(parameter: str, place: Place, free: list[int]) -> list[tuple[int | str | None, float]]:
    known = _TRACKS[parameter]
    letter = next((letter for letter in place.letters if letter in known or letter in "abc"), None)
    if letter is not None:
        return [((known if letter in known else "abc").index(letter) + 1, 0.0)]
    if place.sensor is not None and place.sensor <= 3:
        return [(place.sensor, 0.0)]
    if free and 1 <= free[0] <= 3:
        return [(free.pop(0), 0.2)]
    return [(None, 0.0)]


def _cams(place: Place) -> list[tuple[int | str | None, float]]:
    if place.cam is not None:
        return [(place.cam, 0.0)]
    letter = next((letter for letter in place.letters if letter in "ab"), None)
    if letter is not None:
        return [(letter.upper(), 0.0)]
    return [("intake", 1.0), ("single", 1.4), ("exhaust", 2.0)]


def _numbered(place: Place, key: str, number: int) -> Place:
    if key == "bank":
        return replace(place, bank=number)
    return replace(place, sensor=number) if key == "sensor" else replace(place, cylinder=number)


def _is_label(pieces: tuple[Piece, ...], i: int) -> bool:
    """Whether a single letter tells one of several, and is not the rest of an article ("d'air")."""
    return i == len(pieces) - 1 or (pieces[i].text in "bcdef" and pieces[i + 1].text[0] not in "aeiouh")


def _concepts(piece: Piece, without: frozenset[str] = frozenset(), within: float = 0.3) -> set[str]:
    least = min(piece.meanings.values(), default=0.0)
    near = [meaning for meaning, cost in piece.meanings.items() if cost <= least + within]
    return {concept for meaning in near if without.isdisjoint(meaning) for concept in meaning}


def _first_of(piece: Piece, first: str, second: str) -> int | None:
    """1 where the piece says the first, 2 where the second, None where it may say either ("av." in French)."""
    costs = [
        min((cost for meaning, cost in piece.meanings.items() if name in meaning), default=9.0)
        for name in (first, second)
    ]
    return None if abs(costs[0] - costs[1]) < _EITHER else 1 if costs[0] < costs[1] else 2


def _key(concepts: set[str], letter: str, oxygen: bool) -> str | None:
    """Which number a number is, by the word beside it."""
    for key in ("bank", "cylinder"):
        if key in concepts:
            return key
    if "sensor" in concepts or "oxygen" in concepts:
        return "sensor"
    if letter == "b":
        return "bank"
    if letter == "s":
        return "sensor"
    return "cylinder" if letter in ("z", "c") and not oxygen else None
