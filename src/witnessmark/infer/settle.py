"""Which engines the findings are weighed on: what the description leaves open, as far as the findings hang on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from witnessmark.catalogue.codes import codes as known_codes
from witnessmark.engine.airkinds import air_kinds
from witnessmark.engine.candidates import Candidate, candidate_engines
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer.foretold import Foretold, is_cheap
from witnessmark.infer.ruled import can_be_told, ruled
from witnessmark.infer.sorting import query_of, sort_findings
from witnessmark.infer.world import World
from witnessmark.predict import DriveModel, misplaced
from witnessmark.predict.codes import is_predicted
from witnessmark.vocabulary import Query

__all__ = ["candidates_for", "is_dear", "one_of_each_number_of_banks", "worlds_of"]

_IN_MAKERS_SIGN = ("cam_deviation", "cam_phase_reported", "learnt_reported")


def candidates_for(engine: Engine, findings: Sequence[Finding]) -> tuple[Candidate, ...]:
    """The layouts of the drive that findings allow.

    Parameters
    ----------
    engine : Engine
    findings : sequence of Finding

    Returns
    -------
    tuple of Candidate
        Weights sum to 1. A finding at a place proves that the engine has it.

    Raises
    ------
    InputError
        For a finding at a place that none of the candidates has.
    """
    seen = set()
    for finding in findings:
        for key, bank_key in (("cam", "bank"), ("other_cam", "other_bank")):
            kind = finding.place.get(key)
            if kind is not None:
                seen.add((int(finding.place.get(bank_key) or finding.place.get("bank") or 1), str(kind)))
    signed = any(finding.quantity in _IN_MAKERS_SIGN for finding in findings)
    candidates = candidate_engines(engine, seen=seen, signed=signed)
    models = [DriveModel.of(candidate.engine) for candidate in candidates]
    asked = [query_of(finding) for finding in findings]
    errors = [next((e for q in asked if (e := misplaced(model, q)) is not None), None) for model in models]
    if errors[0] is not None and all(errors):
        raise errors[0]
    kept = [candidate for candidate, error in zip(candidates, errors, strict=True) if error is None]
    total = sum(candidate.weight for candidate in kept)
    return tuple(replace(candidate, weight=candidate.weight / total) for candidate in kept)


def one_of_each_number_of_banks(candidates: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """The likeliest layout of each number of banks, which stands for all: where there is no reading of the drive its
    layout bears on nothing that was found.

    Parameters
    ----------
    candidates : sequence of Candidate

    Returns
    -------
    tuple of Candidate
        With the weight of all that they stand for.
    """
    by_banks: dict[int | None, Candidate] = {}
    for candidate in sorted(candidates, key=lambda one: -one.weight):
        banks = candidate.engine.banks
        if banks in by_banks:
            best = by_banks[banks]
            by_banks[banks] = replace(best, weight=best.weight + candidate.weight)
        else:
            by_banks[banks] = replace(candidate, taken=())
    return tuple(by_banks.values())


def is_dear(engine: Engine, query: Query) -> bool:
    """Whether a reading is predicted, and not by the timing drive's own short sums.

    Parameters
    ----------
    engine : Engine
        With its drive described.
    query : Query

    Returns
    -------
    bool
    """
    if is_cheap(query):
        return False
    if query.quantity == "code_state":
        code = known_codes().get(str(query.place.get("code")))
        return code is not None and is_predicted(code)
    return can_be_told(DriveModel.of(engine), query)


def worlds_of(candidates: Sequence[Candidate], findings: Sequence[Finding]) -> tuple[World, ...]:
    """Every candidate with the findings, split further where they hang on how its air and fuel are managed.

    Parameters
    ----------
    candidates : sequence of Candidate
    findings : sequence of Finding

    Returns
    -------
    tuple of World
        Weights of their candidates sum to 1.
    """
    found = []
    alike: dict[tuple[int, str], Foretold] = {}
    for candidate in candidates:
        for kind in _kinds(candidate, findings):
            model = DriveModel.of(kind.engine)
            key = id(candidate.engine.drive), repr(kind.engine.breathing.air)
            foretold = Foretold(model, alike.get(key))
            alike.setdefault(key, foretold)
            found.append(World(kind, sort_findings(foretold, findings), foretold))
    return tuple(found)


def _kinds(candidate: Candidate, findings: Sequence[Finding]) -> list[Candidate]:
    model = DriveModel.of(candidate.engine)
    asked = [query_of(finding) for finding in findings]
    dear = [q for q in asked if not is_cheap(q) and q.quantity != "code_state"]
    bearing = {nuisance.variable for one in ruled(model, dear) for nuisance in one.moved}
    if any(q.quantity == "code_state" and is_dear(candidate.engine, q) for q in asked):
        bearing.add("air:speed_density")  # most codes of mixture and load hang on it
    return [
        replace(candidate, engine=engine, weight=candidate.weight * odds, taken=(*candidate.taken, *taken))
        for engine, odds, taken in air_kinds(candidate.engine, bearing)
    ]
