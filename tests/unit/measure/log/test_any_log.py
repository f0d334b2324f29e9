"""Whatever a log holds, and however little of it: the parts answer, and say why they do not."""

from __future__ import annotations

import warnings
from itertools import pairwise

import numpy as np
import pytest

from tests.unit.measure.log.invented import log_of_series
from witnessmark.engine.file import engine_from_toml
from witnessmark.measure.log.events import events
from witnessmark.measure.log.heat import heat
from witnessmark.measure.log.misfires import misfires
from witnessmark.measure.log.oxygen import oxygen
from witnessmark.measure.log.phasing import cams
from witnessmark.measure.log.pressures import pressures
from witnessmark.measure.log.series import Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.voltage import voltage
from witnessmark.recording.parameters import Signal, parameters
from witnessmark.vocabulary import STATES

PARTS = (cams, events, heat, misfires, oxygen, pressures, voltage)
KEYS = {"bank": 1, "sensor": 1, "cylinder": 1, "track": 1, "cam": "intake"}
SIGNALS = [
    Signal(row.id, **{key: KEYS[key] for key in (*row.keys, *row.optional)})  # type: ignore[arg-type]
    for row in parameters().values()
    if row.is_number
]


def some_series(rng: np.random.Generator, signal: Signal) -> Series:
    """Few samples or many, still, noisy or jumping, within what the parameter can be or at its ends."""
    row = signal.parameter
    count = int(rng.choice([1, 2, 3, 7, 60]))
    times = np.cumsum(rng.exponential(float(rng.choice([0.1, 1.0, 10.0])), count) + 0.001)
    low, high = row.low or 0.0, min(row.high or 100.0, 1e4)
    kind = int(rng.integers(4))
    values = rng.uniform(low, high, count) if kind == 0 else np.full(count, rng.choice([low, high, 0.5 * (low + high)]))
    if kind == 2:
        values = values + rng.normal(0.0, 0.01 * (high - low) + 1e-6, count)
    if kind == 3:
        values = np.sort(rng.uniform(low, high, count))
    return Series(signal, times, np.round(values) if row.whole else values, float(rng.choice([0.0, 1.0])))


def some_states(rng: np.random.Generator) -> list[StateSpan]:
    ends = np.sort(rng.uniform(0.0, 120.0, int(rng.integers(0, 8))))
    return [
        StateSpan(
            str(rng.choice(STATES)),
            float(a),
            float(b),
            bool(rng.integers(2)),
            [None, True, False][int(rng.integers(3))],
        )
        for a, b in pairwise(ends)
    ]


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.__name__)
def test_any_log_is_answered(rng: np.random.Generator, part: object) -> None:
    engines = (None, engine_from_toml("cylinders = 4\n"))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for k in range(40):
            chosen = [signal for signal in SIGNALS if rng.random() < 0.8]
            found = part(log_of_series(*(some_series(rng, s) for s in chosen)), some_states(rng), engines[k % 2])  # type: ignore[operator]
            for finding in found.findings:
                assert np.isfinite(finding.value)
                assert finding.sd > 0.0
                assert finding.source.digest == "sha256:made"
                assert finding.source.trace
                assert finding.source.from_s is not None
                assert finding.method
            assert all(m.reason and m.settled_by for m in found.not_measured)
            assert all(e.words and e.signals and e.from_s <= e.to_s for e in found.events)


def test_an_empty_log() -> None:
    for part in PARTS:
        found = part(log_of_series(), [], None)
        assert not found.findings
        assert not found.events
