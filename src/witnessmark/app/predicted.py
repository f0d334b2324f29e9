"""Predict: what every test would show on an engine, sound and with a fault in it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypedDict

import numpy as np

from witnessmark import __version__
from witnessmark.app.engines import engine_named, likeliest
from witnessmark.catalogue.codes import codes
from witnessmark.catalogue.procedures import Procedure, all_procedures
from witnessmark.catalogue.spelt import spelt_fault
from witnessmark.engine.state import HEALTHY
from witnessmark.engine.stateplaces import banks_of
from witnessmark.engine.types import Engine
from witnessmark.errors import one_of
from witnessmark.predict.abreast import Foreseen, Stood, foresee
from witnessmark.predict.codes import code_chance, limits_of
from witnessmark.predict.cylindertables import made_already, make_all
from witnessmark.predict.model import DriveModel
from witnessmark.predict.run import why_not
from witnessmark.report.predicted import Prediction, Shown
from witnessmark.vocabulary import Place, Query

__all__ = [
    "SCHEMA",
    "EditDocument",
    "NotPredictedDocument",
    "PredictedFaultDocument",
    "PredictionDocument",
    "ShownDocument",
    "TakenDocument",
    "kind_of_engine",
    "predicted",
    "prediction_json",
    "prediction_schema",
]

SCHEMA = "witnessmark/prediction/2"
_WORTH_TELLING = 0.05  # change of a code's chance beyond which it is listed


class EditDocument(TypedDict):
    """One edit of the state."""

    variable: str
    at: str
    op: str
    amount: float


class PredictedFaultDocument(TypedDict):
    """One fault, as it was understood."""

    fault: str
    place: dict[str, str]
    edits: list[EditDocument]
    taken: list[str]


class TakenDocument(TypedDict):
    """What a description left open and was taken for granted."""

    number: str
    value: str


class NotPredictedDocument(TypedDict):
    """What nothing here predicts."""

    quantity: str
    reason: str


class ShownDocument(TypedDict):
    """One reading."""

    test: str
    quantity: str
    place: dict[str, str | int]
    condition: dict[str, str | float]
    unit: str
    sound: float | None
    sd: float
    faulty: float | None
    moved: float | None
    absent: bool


class PredictionDocument(TypedDict):
    """What ``witnessmark predict --json`` writes."""

    schema: str
    version: str
    engine: str
    faults: list[PredictedFaultDocument]
    taken: list[TakenDocument]
    shown: list[ShownDocument]
    not_predicted: list[NotPredictedDocument]


def predicted(
    engine: str,
    faults: Sequence[str] = (),
    tests: Sequence[str] = (),
    *,
    progress: Callable[[str], object] = lambda words: None,
) -> Prediction:
    """What every test of the catalogue would show.

    Parameters
    ----------
    engine : str
        Name or file of a description.
    faults : sequence of str
        As :func:`witnessmark.catalogue.spelt.spelt_fault` reads them; several are there at once.
    tests : sequence of str
        Ids of the tests to look at; none: every test of the catalogue.
    progress : callable (str) -> object
        Told what has to be worked out once for this engine, if anything has.

    Returns
    -------
    Prediction

    Raises
    ------
    InputError
        For an engine, a fault or a test that is not there: one line each.
    """
    described = engine_named(engine)
    chosen = _chosen(tests)
    candidate = likeliest(described)
    model = DriveModel.of(candidate.engine)
    spelt = tuple(spelt_fault(text, candidate.engine) for text in faults)
    state = HEALTHY
    for fault in spelt:
        state = fault.on(state)
    changed = state if spelt else None
    asked = {procedure.id: procedure.queries(candidate.engine) for procedure in chosen}
    missing: dict[tuple[str, str], None] = {}
    if not made_already(candidate.engine):
        progress(f"Working out the cylinders of “{candidate.engine.name}”, once; kept for the next time")
        if not tests:  # which look into every regime; a few tests have made what they look into
            make_all(candidate.engine)
    foreseen, stood = foresee(model, _predictable(model, asked.values(), missing), changed)
    shown: list[Shown] = []
    for procedure in chosen:
        queries = asked[procedure.id]
        for query in (*queries, *_more_codes(queries, stood)):
            if query.quantity == "code_state":
                reading = _code(query, stood, faulty=bool(spelt))
            else:
                reading = _reading(query, foreseen[query]) if query in foreseen else None
            if reading is not None:
                shown.append(_shown(procedure, query, reading))
    applied = tuple((procedure.id, procedure.words) for procedure in chosen if asked[procedure.id])
    return Prediction(candidate.engine, spelt, tuple(shown), candidate.taken, tuple(missing), applied)


def kind_of_engine(engine: str) -> Engine:
    """The likeliest engine that a description allows, as faults are put into it.

    Parameters
    ----------
    engine : str
        Name or file of a description.

    Returns
    -------
    Engine

    Raises
    ------
    InputError
        For an engine that is not there.
    """
    return likeliest(engine_named(engine)).engine


def _chosen(tests: Sequence[str]) -> tuple[Procedure, ...]:
    known = {procedure.id: procedure for procedure in all_procedures().all}
    for test in tests:
        if test not in known:
            raise one_of("test", test, known)
    return tuple(known[test] for test in dict.fromkeys(tests)) if tests else tuple(known.values())


@dataclass(frozen=True, slots=True)
class _Reading:
    """What is read: sound, how far that spreads, and with the fault."""

    sound: float
    sd: float
    faulty: float | None


def _shown(procedure: Procedure, query: Query, reading: _Reading) -> Shown:
    return Shown(
        procedure.id, procedure.words, query.quantity, query.place, query.condition, query.kind.unit_at(query.place),
        reading.sound, reading.sd, reading.faulty,
    )  # fmt: skip


def _predictable(
    model: DriveModel, asked: Iterable[Sequence[Query]], missing: dict[tuple[str, str], None]
) -> list[Query]:
    """Every query that can be predicted, once; why others cannot goes to ``missing``."""
    found: list[Query] = []
    for query in dict.fromkeys(query for queries in asked for query in queries):
        if query.quantity == "code_state":
            continue
        reason = why_not(model, query)
        if reason is None:
            found.append(query)
        else:
            missing[(query.quantity, reason)] = None
    return found


def _reading(query: Query, foreseen: Foreseen) -> _Reading:
    """As it is read: with the spread of the instrument."""
    own = query.kind.default_sd(foreseen.sound) if query.kind.kind in ("number", "count") else 0.0
    chance = query.kind.unit == "0/1"
    sd = 0.0 if chance else float(np.sqrt(foreseen.spread**2 + foreseen.tolerance**2 + own**2))
    return _Reading(foreseen.sound, sd, foreseen.faulty)


def _more_codes(queries: Sequence[Query], stood: Stood) -> list[Query]:
    """Codes beside those that the reading of codes always lists: whatever these faults would set."""
    engine = stood.batch.model.engine
    asked = [query for query in queries if query.quantity == "code_state"]
    if not asked:
        return []
    listed = {query.place.get("code") for query in asked}
    banks = {cam.bank for cam in engine.cams} | set(banks_of(engine))
    found = []
    for name, code in codes().items():
        if name in listed or (code.bank is not None and code.bank not in banks):
            continue
        chances = _chances(name, stood)
        if chances is not None and abs(chances[1] - chances[0]) > _WORTH_TELLING:
            found.append(Query("code_state", Place.of(code=name), asked[0].condition))
    return found


def _chances(name: str, stood: Stood) -> tuple[float, float] | None:
    """Chance that a code is set once its monitor ran, over the limits it may have: sound, and with the fault."""

    def found() -> tuple[float, float] | None:
        batch = stood.batch
        each = code_chance(batch.model, name, batch.state, batch.numbers, batch.rows, batch=batch)
        if each is None:
            return None
        odds = limits_of(batch.model.engine)[1]
        return float(each[stood.sound] @ odds), float(each[stood.faulty] @ odds)

    return stood.batch.once(("chance of code", name), found)


def _code(query: Query, stood: Stood, *, faulty: bool) -> _Reading | None:
    chances = _chances(str(query.place.get("code")), stood)
    return None if chances is None else _Reading(chances[0], 0.0, chances[1] if faulty else None)


def prediction_json(found: Prediction) -> PredictionDocument:
    """The same as JSON holds it.

    Parameters
    ----------
    found : Prediction

    Returns
    -------
    PredictionDocument
    """
    return {
        "schema": SCHEMA,
        "version": __version__,
        "engine": found.engine.name,
        "faults": [
            {
                "fault": fault.instance.row.id,
                "place": {fault.instance.where.key: fault.instance.where.id},
                "edits": [
                    {"variable": v, "at": place, "op": op, "amount": amount} for v, place, op, amount in fault.sizes
                ],
                "taken": list(fault.taken),
            }
            for fault in found.faults
        ],
        "taken": [{"number": number, "value": value} for number, value in found.taken],
        "shown": [_shown_json(one) for one in found.shown],
        "not_predicted": [{"quantity": quantity, "reason": reason} for quantity, reason in found.not_predicted],
    }


def prediction_schema() -> dict[str, object]:
    """JSON Schema of what ``predict --json`` writes, as published in ``docs/schema/prediction.schema.json``."""
    from witnessmark.report.schema import document_schema

    return document_schema(PredictionDocument, SCHEMA, title="Witnessmark: what every test would show")


def _shown_json(one: Shown) -> ShownDocument:
    absent = one.faulty is not None and bool(np.isnan(one.faulty))
    return {
        "test": one.test, "quantity": one.quantity, "place": dict(one.place.items),
        "condition": one.condition.as_dict(), "unit": one.unit, "sound": _known(one.sound), "sd": _known(one.sd) or 0.0,
        "faulty": _known(one.faulty), "moved": one.moved, "absent": absent,
    }  # fmt: skip


def _known(value: float | None) -> float | None:
    """JSON has no word for "no such reading" but null."""
    return None if value is None or np.isnan(value) else value
