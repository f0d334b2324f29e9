"""What readings of the drive look at: whatever moves one must be among it."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.catalogue.faults import fault_instances
from witnessmark.catalogue.procedures import procedures
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.types import Engine
from witnessmark.infer.components import assemble
from witnessmark.infer.foretold import is_cheap, nodes_of
from witnessmark.predict import DriveModel, expect, why_not
from witnessmark.predict.codes import code_chance
from witnessmark.predict.looksat import asked_of
from witnessmark.vocabulary import Place, Query

CANDIDATES = candidate_engines(Engine("bare", 4), seen=set(), signed=True)
CODES = tuple(Query("code_state", Place.of(code=code)) for code in ("P0016", "P0017", "P0011", "P0335", "P0341"))


@pytest.mark.parametrize("k", [0, len(CANDIDATES) - 1])
def test_no_fault_moves_a_reading_that_does_not_look_at_it(k):
    """Every way of every fault at every node, worked out the long way."""
    model = DriveModel.of(CANDIDATES[k].engine)
    queries = dict.fromkeys(q for procedure in procedures().all for q in procedure.queries(model.engine))
    measured = [q for q in queries if is_cheap(q) and q.quantity != "code_state" and q.condition.during is None]
    plain = [q for q in measured if why_not(model, q) is None]
    asked = asked_of(model, [*plain, *CODES])
    assert asked is not None
    ways = [kind for instance in fault_instances(model.engine) for kind in instance.kinds]
    others = [way for way in ways if not any((term.variable, term.place) in asked for term in way.terms)]
    assert 0.5 * len(ways) < len(others) < len(ways)
    state, _, rows = assemble([nodes_of(way) for way in others])
    sound = expect(model, plain, type(state)({})).mean[0]
    found = expect(model, plain, state, rows=rows).mean
    np.testing.assert_array_equal(found, np.broadcast_to(sound, found.shape))
    for code in CODES:
        chance = code_chance(model, str(code.place.get("code")), state, {}, rows)
        assert chance is not None
        assert not np.ptp(chance, axis=0).any()


def test_what_looks_through_all_edits_may_be_moved_by_any():
    model = DriveModel.of(CANDIDATES[0].engine)
    assert asked_of(model, [Query("code_state", Place.of(code="P0339"))]) is None
