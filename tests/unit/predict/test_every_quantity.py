"""Every quantity of the closed list is predicted by one module, or says why nothing predicts it."""

from __future__ import annotations

from itertools import chain

import pytest

from witnessmark.predict.rules import HOMES, rule_of
from witnessmark.predict.unpredicted import UNPREDICTED
from witnessmark.vocabulary import quantities

PREDICTED = list(chain.from_iterable(HOMES.values()))


def test_each_is_predicted_once_or_not_at_all_with_a_reason():
    assert len(PREDICTED) == len(set(PREDICTED))
    assert set(PREDICTED) | set(UNPREDICTED) == set(quantities())
    assert not set(PREDICTED) & set(UNPREDICTED)
    assert all(len(reason.split()) > 5 for reason in UNPREDICTED.values())


@pytest.mark.parametrize("name", PREDICTED)
def test_its_module_has_the_rule(name):
    assert rule_of(name) is not None
