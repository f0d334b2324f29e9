"""A fault's sizes in words for people: no id of the state is among them (own wording, no source)."""

from __future__ import annotations

import pytest

from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.catalogue.faults import instances_of
from witnessmark.catalogue.spelt import spelt_fault
from witnessmark.engine.library import find_engine
from witnessmark.engine.types import Engine
from witnessmark.report.sizes import sizes_words

FOUR, SIX = find_engine("made-up four"), find_engine("made-up V6 with links")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("wheel_slipped wheel=crank wheel_slip=-11", "wheel slip −11°"),
        ("valve_burnt valve=3.exhaust valve_leak=3.2", "valve leak +3.2 mm²"),
        ("chain_jumped mesh=primary.crank pitch_slip=1 slack=6", "pitch slip +1 pitch, slack +6 mm at timing chain"),
        ("coil_weak cylinder=3 coil_energy=0.4", "coil energy times 0.40"),
        ("wire_open node=coil_3", "resistance open"),
        ("wire_shorted node=coil_3 to=supply shorting=0.05", "shorting +0.050 S to supply"),
        ("wire_shorted node=coil_3 to=ground shorting=0.05", "shorting +0.050 S to ground"),
        ("wrong_plug cylinder=2 spark_gap=0.4", "spark gap +0.40 mm, a foreign part"),
        ("bores_fuel_washed ring_leak=2 oil_fuel=0.05", "ring leak +2 mm² each, oil fuel +0.050 at engine"),
        ("temperature_wrong sensor=ect sensor_offset=-25", "sensor offset −25 °C"),
        ("not_relearnt learnt_item=fuel_trim:bank_1 learnt_error=10", "learnt error +10 %"),
        ("injector_clogged cylinder=all injector_flow=0.5", "injector flow times 0.50 at every cylinder"),
    ],
)  # fmt: skip
def test_sizes_in_words(text: str, words: str) -> None:
    assert sizes_words(FOUR, spelt_fault(text, FOUR)).replace("\N{NO-BREAK SPACE}", " ") == words


@pytest.mark.parametrize("engine", [FOUR, SIX], ids=["four", "six"])
def test_no_fault_speaks_in_the_ids_of_the_state(engine: Engine) -> None:
    told = 0
    for row in catalogue(SYSTEMS).rows:
        for one in instances_of(engine, row):
            words = sizes_words(engine, spelt_fault(f"{row.id} {one.where.key}={one.where.id}", engine))
            assert not any(mark in words for mark in ("_", ":", "0/1", "±1")), words
            told += 1
    assert told > 200
