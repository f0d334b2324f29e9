"""What the rules say of a reading beside its value: whether it can be told, what sound engines differ in, how well the
usual number fits.

It follows from engine and reading alone. So it is kept like the predictions: an answer that finds those need not load
what predicts, which is half of the program.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.keeping import digest_of
from witnessmark.predict import DriveModel, Nuisance, Tolerance, nuisances, tolerance_of, why_not
from witnessmark.predict.rules import HOMES
from witnessmark.predict.shelf import keep_all, kept_of
from witnessmark.vocabulary import Query

__all__ = ["OF_THE_DRIVE", "Ruled", "can_be_told", "ruled"]

OF_THE_DRIVE = frozenset((*HOMES["drive"], *HOMES["slew"]))
"""Quantities whose rules are short sums and at hand anyhow: nothing of them is kept."""
_LAYOUT = "rules 1"


@dataclass(frozen=True, slots=True)
class Ruled:
    """What is said of one reading on one engine.

    Parameters
    ----------
    refusal : str or None
        Why it cannot be told here.
    moved : tuple of Nuisance
        What sound engines differ in that bears on it; none where it cannot be told.
    tolerance : Tolerance
        How well the nominal is known beyond that.
    """

    refusal: str | None
    moved: tuple[Nuisance, ...]
    tolerance: Tolerance


_known: dict[tuple[str, Query], Ruled] = {}
_MOST = 20_000  # readings whose rules are held in memory, before all are forgotten


def ruled(model: DriveModel, queries: Sequence[Query]) -> tuple[Ruled, ...]:
    """What the rules say of some readings on an engine: as kept, else asked of them and kept.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query, length q
        No codes.

    Returns
    -------
    tuple of Ruled, length q
    """
    dear = [query for query in queries if query.quantity not in OF_THE_DRIVE]
    found = _kept_or_asked(model, dear) if dear else {}
    return tuple(found[query] if query in found else _asked(model, query) for query in queries)


def _kept_or_asked(model: DriveModel, queries: Sequence[Query]) -> dict[Query, Ruled]:
    digest = _digest(model)
    found = {query: _known[digest, query] for query in queries if (digest, query) in _known}
    missing = {_name(digest, query): query for query in queries if query not in found}
    if not missing:
        return found
    for name, arrays in kept_of(missing).items():
        with suppress(KeyError, ValueError, TypeError):
            found[missing[name]] = _unpacked(arrays["said"])
    made = {name: _asked(model, query) for name, query in missing.items() if query not in found}
    found |= {missing[name]: one for name, one in made.items()}
    # A refusal may say the engine's name, which the digest leaves out: it is asked for anew.
    keep_all({name: {"said": _packed(one)} for name, one in made.items() if one.refusal is None})
    if len(_known) > _MOST:
        _known.clear()
    _known.update({(digest, query): found[query] for query in missing.values() if found[query].refusal is None})
    return found


def can_be_told(model: DriveModel, query: Query) -> bool:
    """Whether a reading can be predicted on an engine.

    Parameters
    ----------
    model : DriveModel
    query : Query
        No code.

    Returns
    -------
    bool
    """
    return ruled(model, [query])[0].refusal is None


def _asked(model: DriveModel, query: Query) -> Ruled:
    refusal = why_not(model, query)
    if refusal is not None:
        return Ruled(refusal, (), Tolerance())
    return Ruled(None, nuisances(model, [query]), tolerance_of(model, query))


_digests: dict[int, tuple[DriveModel, str]] = {}  # by identity; the model is held so that no other takes its place


def _digest(model: DriveModel) -> str:
    found = _digests.get(id(model))
    if found is None:
        found = model, digest_of(model.engine, _LAYOUT)
        if len(_digests) >= _MOST_MODELS:
            _digests.clear()
        _digests[id(model)] = found
    return found[1]


_MOST_MODELS = 200


def _name(digest: str, query: Query) -> str:
    return f"rule-{digest}-{sha256(repr(query).encode()).hexdigest()[:16]}"


def _packed(one: Ruled) -> NDArray[np.uint8]:
    """As JSON, whose numbers come back to the last digit."""
    moved = [(n.variable, n.place, n.mean, n.sd, n.every) for n in one.moved]
    said = json.dumps([moved, one.tolerance.absolute, one.tolerance.share])
    return np.frombuffer(said.encode(), dtype=np.uint8)


def _unpacked(kept: NDArray[np.float64]) -> Ruled:
    said: tuple[Sequence[tuple[str, str, float, float, Sequence[str]]], float, float]
    said = json.loads(kept.astype(np.uint8).tobytes())
    moved, absolute, share = said
    return Ruled(
        None, tuple(Nuisance(v, p, m, sd, tuple(every)) for v, p, m, sd, every in moved), Tolerance(absolute, share)
    )
