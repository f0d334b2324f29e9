"""What an incompletely described engine may be: every usual layout, sign and naming, with odds.

Nothing is filled in silently: each candidate says what it takes for granted, and the answer
says which of those numbers is worth looking up first. All odds are our guess, to be replaced
by counts; a description that states the fact leaves one candidate.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, replace

from witnessmark.engine.drive import CRANK, Phaser, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.types import Camshaft, Engine, cam_id, cam_of_id
from witnessmark.source import Source
from witnessmark.vocabulary import CAMS

__all__ = ["Candidate", "candidate_engines", "naming_odds"]

_GUESS = Source("guess", "usual values, our guess")
_RAREST = 0.03  # of all candidates, left out: it would cost more time than it could change
_SIGN_ODDS = {1: 0.75, -1: 0.25}
_A_ODDS = {"intake": 0.85, "exhaust": 0.15}
_PHASER_ODDS = {"intake": 0.75, "exhaust": 0.5, "single": 0.3}
_PHASER_RANGE_DEG = {"intake": 50.0, "exhaust": -45.0, "single": -40.0}


@dataclass(frozen=True, slots=True)
class Candidate:
    """One engine that the description allows.

    Parameters
    ----------
    engine : Engine
        With drive, cams, banks, sign and naming all set; tooth counts may still be open.
    weight : float [-]
        Odds among the candidates, summing to 1.
    taken : tuple of (number, value)
        What was taken for granted: ("drive.layout", "one chain to both cams").
    """

    engine: Engine
    weight: float
    taken: tuple[tuple[str, str], ...]


def candidate_engines(
    engine: Engine, *, seen: Iterable[tuple[int, str]] = (), signed: bool = True
) -> tuple[Candidate, ...]:
    """Every engine the description allows, with odds.

    The naming of A and B stays open: it touches codes only (see :func:`naming_odds`).

    Parameters
    ----------
    engine : Engine
    seen : iterable of (bank, cam kind)
        Cams that readings speak of; they must exist.
    signed : bool
        Whether any reading comes in the maker's sign; otherwise an open sign is not multiplied out.

    Returns
    -------
    tuple of Candidate
        Weights sum to 1.
    """
    layouts = _layouts(engine, frozenset(seen))
    found = []
    for (built, p_layout, taken), (sign, p_sign, said) in itertools.product(layouts, _signs(engine, signed)):
        reporting = replace(built.reporting, sign=Number.exactly(sign, _GUESS))
        found.append(Candidate(replace(built, reporting=reporting), p_layout * p_sign, (*taken, *said)))
    found = _without_the_rarest(found)
    total = sum(candidate.weight for candidate in found)
    return tuple(replace(candidate, weight=candidate.weight / total) for candidate in found)


def _signs(engine: Engine, signed: bool) -> list[tuple[float, float, tuple[tuple[str, str], ...]]]:
    sign = engine.reporting.sign
    if sign.exact is not None:
        return [(sign.exact, 1.0, ())]
    if not signed:
        return [(1.0, 1.0, ())]
    odds = dict(zip(sign.values, sign.weights, strict=True)) if sign.values else _SIGN_ODDS
    words = {1: "+ means early", -1: "+ means late"}
    return [(float(s), p, (("reporting.sign", words[int(s)]),)) for s, p in odds.items()]


def _without_the_rarest(found: list[Candidate]) -> list[Candidate]:
    """Leave out the rarest combinations while all that is left out stays under a few in a hundred."""
    order = sorted(found, key=lambda candidate: candidate.weight)
    whole, left = sum(candidate.weight for candidate in found), 0.0
    dropped = set()
    for candidate in order:
        left += candidate.weight
        if left > _RAREST * whole:
            break
        dropped.add(id(candidate))
    return [candidate for candidate in found if id(candidate) not in dropped]


def naming_odds(engine: Engine) -> tuple[tuple[str | None, float], ...]:
    """Which cam "A" is, with odds; one entry where it is described or there is only one cam a bank.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    tuple of (kind, odds [-])
    """
    stated = engine.reporting.a_is
    if stated is not None or {cam.kind for cam in engine.cams} == {"single"}:
        return ((stated, 1.0),)
    return tuple(_A_ODDS.items())


def _layouts(
    engine: Engine, seen: frozenset[tuple[int, str]]
) -> list[tuple[Engine, float, tuple[tuple[str, str], ...]]]:
    described = engine.drive
    if described is not None and described.stages:
        return [(_with_phasers(engine), 1.0, ())]
    found: list[tuple[Engine, float, tuple[tuple[str, str], ...]]] = []
    for banks, p_banks in _bank_odds(engine, seen).items():
        for kinds, p_kinds in _kind_odds(engine, seen).items():
            drives = _fitting(_drives(banks, kinds), engine.cams)
            total = sum(p for _, p in drives)
            for drive, p in drives:
                phasers = described.phasers if described is not None else drive.phasers
                built = replace(engine, banks=banks, cams=_cams_of(drive), drive=replace(drive, phasers=phasers))
                found.append((_with_phasers(built), p_banks * p_kinds * p / total, (("drive.layout", drive.label),)))
    return found


def _cams_of(drive: TimingDrive) -> tuple[Camshaft, ...]:
    """The camshafts a drive turns, by bank, intake before exhaust."""
    driven = [cam_of_id(sprocket.shaft) for stage in drive.stages for sprocket in stage.driven]
    return tuple(sorted((cam for cam in driven if cam is not None), key=lambda c: (c.bank, CAMS.index(c.kind))))


def _fitting(drives: list[tuple[TimingDrive, float]], cams: tuple[Camshaft, ...]) -> list[tuple[TimingDrive, float]]:
    """Those drives that turn just the described cams; all of them where no cam is described, or none fits."""
    same = [(drive, p) for drive, p in drives if not cams or set(_cams_of(drive)) == set(cams)]
    return same or drives


def _bank_odds(engine: Engine, seen: frozenset[tuple[int, str]]) -> dict[int, float]:
    if engine.banks is not None:
        return {engine.banks: 1.0}
    if any(bank > 1 for bank, _ in seen):
        return {max(bank for bank, _ in seen): 1.0}
    if engine.cylinders <= 5:
        return {1: 1.0}
    return {1: 0.4, 2: 0.6} if engine.cylinders == 6 else {2: 1.0}


def _kind_odds(engine: Engine, seen: frozenset[tuple[int, str]]) -> dict[tuple[str, ...], float]:
    kinds = {cam.kind for cam in engine.cams} or {kind for _, kind in seen}
    if "single" in kinds:
        return {("single",): 1.0}
    return {("intake", "exhaust"): 1.0} if kinds else {("intake", "exhaust"): 0.85, ("single",): 0.15}


def _with_phasers(engine: Engine) -> Engine:
    """Phasers where none is described: perhaps there, with the usual range."""
    drive = engine.drive
    if drive is None or drive.phasers:
        return engine
    phasers = tuple((cam.id, _usual_phaser(cam.kind)) for cam in engine.cams)
    return replace(engine, drive=replace(drive, phasers=phasers))


def _usual_phaser(kind: str) -> Phaser:
    reach = _PHASER_RANGE_DEG[kind]
    low, high = sorted((0.7 * reach, 1.3 * reach))
    return Phaser(Number.between(low, high, _GUESS), presence=_PHASER_ODDS[kind])


# Tight lengths where nothing is described, as ranges in pitches times an 8 mm pitch.
_PITCH = Number.exactly(8.0, _GUESS)
_LONG = Number.between(8.0 * 34, 8.0 * 54, _GUESS)
_SHORT = Number.between(8.0 * 8, 8.0 * 18, _GUESS)


def _stage(name: str, kind: str, driver: str, *driven: str) -> Stage:
    lengths = (_LONG if driver == CRANK else _SHORT, *(_SHORT,) * (len(driven) - 1))
    pitch = ABSENT if kind == "belt" else _PITCH
    hung = tuple(Sprocket(shaft, tight_mm=length) for shaft, length in zip(driven, lengths, strict=True))
    return Stage(name, kind, Sprocket(driver), hung, pitch_mm=pitch)


def _drives(banks: int, kinds: tuple[str, ...]) -> list[tuple[TimingDrive, float]]:
    if kinds == ("single",):
        return _single_cam_drives(banks)
    return _in_line_drives() if banks == 1 else _two_bank_drives()


def _in_line_drives() -> list[tuple[TimingDrive, float]]:
    i, e = cam_id(1, "intake"), cam_id(1, "exhaust")
    found = []
    for near, far, last in ((e, i, "intake"), (i, e, "exhaust")):
        one = TimingDrive((_stage("primary", "chain", CRANK, near, far),), f"one chain to both cams, {last} last")
        link = TimingDrive(
            (_stage("primary", "chain", CRANK, near), _stage("link", "chain", near, far)),
            f"a chain to one cam, which drives the {last} cam",
        )
        found += [(one, 0.30), (link, 0.05)]
    # Which cam the second chain reaches last tells little: its spans are short, so one order stands for both.
    two = TimingDrive(
        (_stage("primary", "chain", CRANK, "idler"), _stage("secondary", "chain", "idler", e, i)),
        "an idler and a second chain to both cams",
    )
    belt = TimingDrive((_stage("primary", "belt", CRANK, e, i),), "one belt to both cams")
    return [*found, (two, 0.10), (belt, 0.20)]


def _two_bank_drives() -> list[tuple[TimingDrive, float]]:
    i1, e1, i2, e2 = (cam_id(b, kind) for b in (1, 2) for kind in ("intake", "exhaust"))
    secondaries = TimingDrive(
        (
            _stage("primary", "chain", CRANK, "idler_1", "idler_2"),
            _stage("secondary_1", "chain", "idler_1", e1, i1),
            _stage("secondary_2", "chain", "idler_2", e2, i2),
        ),
        "one primary and a second chain for each bank",
    )
    links = TimingDrive(
        (
            _stage("primary", "chain", CRANK, i1, i2),
            _stage("link_1", "chain", i1, e1),
            _stage("link_2", "chain", i2, e2),
        ),
        "one chain to the intake cams, each driving its exhaust cam",
    )
    belt = TimingDrive((_stage("primary", "belt", CRANK, e1, i1, i2, e2),), "one belt to all cams")
    return [(secondaries, 0.5), (links, 0.3), (belt, 0.2)]


def _single_cam_drives(banks: int) -> list[tuple[TimingDrive, float]]:
    shafts = tuple(cam_id(b, "single") for b in range(1, banks + 1))
    chain = TimingDrive((_stage("primary", "chain", CRANK, *shafts),), "one chain to the cam")
    belt = TimingDrive((_stage("primary", "belt", CRANK, *shafts),), "one belt to the cam")
    if banks == 1:
        return [(chain, 0.5), (belt, 0.5)]
    pushrods = TimingDrive((_stage("primary", "chain", CRANK, cam_id(1, "single")),), "a chain to one cam in the block")
    return [(chain, 0.3), (belt, 0.2), (pushrods, 0.5)]
