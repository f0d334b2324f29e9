"""Cylinders of every shipped engine and of one that nobody described; extremes, batches, and what is not known.

Bounds are data/state.toml's; plausible ranges are common practice, no source.
"""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from tests.unit.predict.cylinders import ask, bare, drawn, look
from tests.unit.predict.drives import model_of
from witnessmark.engine.library import known_engines
from witnessmark.engine.state import HEALTHY, State, state_variables
from witnessmark.engine.stateplaces import state_places
from witnessmark.predict import DriveModel, expect, nuisances, why_not
from witnessmark.predict.differing import one_upward, sound_states
from witnessmark.predict.rules import HOMES
from witnessmark.vocabulary import quantities

ASKED = {
    "compression_peak": (ask("compression_peak", "cranking", cylinder=2), (1100.0, 2100.0)),
    "compression_running": (ask("compression_running", "idle", cylinder=2), (300.0, 1000.0)),
    "relative_compression": (ask("relative_compression", "cranking", cylinder=2), (98.0, 100.0)),
    "tower_peak": (ask("tower_peak", "idle", cylinder=2), (400.0, 1000.0)),
    "loss_angle": (ask("loss_angle", "cranking", cylinder=2), (1.0, 4.0)),
    "polytropic_exponent": (ask("polytropic_exponent", "cranking", cylinder=2), (1.25, 1.36)),
    "overlap_pressure": (ask("overlap_pressure", "idle", cylinder=2), (30.0, 115.0)),
    "exhaust_plateau": (ask("exhaust_plateau", "idle", cylinder=2), (0.0, 7.0)),
    "valve_event": (ask("valve_event", "idle", valve="2.exhaust.opens"), (110.0, 150.0)),
    "lift_seen": (ask("lift_seen", "off", valve="2.intake"), (7.0, 13.0)),
    "lash_seen": (ask("lash_seen", "off", valve="2.intake"), (0.0, 0.4)),
    "imep": (ask("imep", "idle", cylinder=2), (90.0, 350.0)),
    "burn_phasing": (ask("burn_phasing", "idle", cylinder=2), (5.0, 30.0)),
    "contribution": (ask("contribution", "idle", cylinder=2), (-5.0, 5.0)),
    "runner_temperature": (ask("runner_temperature", "idle", cylinder=2), (100.0, 300.0)),
    "pulse_height": (ask("pulse_height", "idle", cylinder=2), (98.0, 102.0)),
    "vacuum_flicker": (ask("vacuum_flicker", "idle"), (0.2, 3.0)),
    "cylinder_leakage": (ask("cylinder_leakage", "off", cylinder=2), (2.0, 20.0)),
    "turning_torque": (ask("turning_torque", "off"), (5.0, 80.0)),
    "coolant_gas_seen": (ask("coolant_gas_seen", "idle"), (0.0, 0.05)),
    "coolant_drop": (ask("coolant_drop", "off"), (0.0, 6.0)),
}
QUERIES = [query for query, _ in ASKED.values()]
# Of the shipped engines the most unlike: tables of each take seconds to make.
UNLIKE = ("made-up-three-belt", "made-up-v8-pushrod")


def of(file: str) -> DriveModel:
    return DriveModel.of(next(known.load() for known in known_engines() if known.file == file))


def test_every_quantity_of_these_modules_is_asked_here():
    mine = {name for module in ("compression", "valveevents", "cylinderwork", "handchecks") for name in HOMES[module]}
    assert mine == set(ASKED)
    assert mine <= set(quantities())


@pytest.mark.parametrize("file", [*UNLIKE, None], ids=str)
def test_sound_engines_read_what_engines_read(file):
    model = bare() if file is None else of(file)
    found = expect(model, QUERIES, HEALTHY)
    for query, value, tolerance in zip(QUERIES, found.mean[0], found.tolerance[0], strict=True):
        low, high = ASKED[query.quantity][1]
        assert low <= value <= high, f"{query.quantity} {value}"
        assert 0.0 <= tolerance < 0.5 * max(abs(value), 40.0)
        assert why_not(model, query) is None


def test_side_by_side_is_one_by_one():
    model, rows = model_of(), 7
    known = state_variables()
    places = {
        ("ring_leak", "cylinder_2"): (0.0, 20.0),
        ("valve_leak", "cylinder_2.intake"): (0.0, 5.0),
        ("phaser_rest", "b1.intake"): (-40.0, 40.0),
        ("phaser_rest", "b1.exhaust"): (-40.0, 40.0),
        ("lift_scale", "cylinder_1.intake"): (0.1, 1.0),
        ("injector_flow", "cylinder_3"): (0.3, 1.3),
        ("restriction", "catalyst_1"): (0.0, 0.95),
        ("oil_viscosity", "engine"): (known["oil_viscosity"].low, known["oil_viscosity"].high),
    }
    state = drawn(places, rows)
    together = expect(model, QUERIES, state, rows=rows).mean
    for k in range(rows):
        one = State({key: float(np.asarray(value)[k]) for key, value in state.edits.items()})
        np.testing.assert_allclose(expect(model, QUERIES, one).mean[0], together[k], rtol=1e-9, equal_nan=True)


def test_extremes_neither_stop_nor_warn():
    """Every bound of every variable, everywhere on the engine; warnings are errors here."""
    model, known = model_of(), state_variables()
    places = {
        *(("cylinder", name) for name in ("ring_leak", "gasket_leak", "clearance_scale", "valve_mode_error",
                                          "injector_flow", "injector_leak")),
        *(("valve", name) for name in ("lift_scale", "lash_error", "valve_leak", "spring_scale", "stem_drag")),
        ("pair", "gasket_leak"), ("coil", "coil_energy"), ("coil", "winding"), ("injector", "winding"),
        ("plug", "spark_gap"), ("plug", "plug_shunt"), ("plug", "breakdown_kv"), ("boot", "breakdown_kv"),
        ("boot", "resistance"), ("exhaust_duct", "restriction"), ("air_duct", "restriction"),
        ("engine", "oil_viscosity"), ("engine", "accessory_drag"), ("position", "wheel_slip"),
    }  # fmt: skip
    keys = [(name, place) for kind, name in sorted(places) for place in state_places(model.engine, kind)]
    keys += [("phaser_rest", cam.id) for cam in model.engine.cams]
    columns = {}
    rows = 2 * len(keys) + 2
    for k, (name, place) in enumerate(keys):
        row = known[name]
        column = np.full(rows, row.healthy)
        column[2 * k], column[2 * k + 1] = row.low, row.high
        column[-2], column[-1] = row.low, row.high
        columns[name, place] = column
    found = expect(model, QUERIES, State(columns), rows=rows)
    assert not np.any(np.isinf(found.mean))
    assert np.all(np.isfinite(found.tolerance))
    single = found.mean[:-2]
    assert np.mean(np.isnan(single)) < 0.05


def test_what_is_not_known_widens():
    """The spread by open numbers of an engine nobody described is more than that of a described one."""
    query = [ASKED["compression_peak"][0]]

    def spread(model: DriveModel) -> float:
        found = nuisances(model, query)
        rows = 1 + len(found)
        mean = expect(model, query, *sound_states(found, one_upward(found)), rows=rows).mean[:, 0]
        return float(np.linalg.norm(mean[1:] - mean[0]) / mean[0])

    assert spread(bare()) > 1.2 * spread(model_of())
    assert 0.03 < spread(model_of()) < 0.2


@pytest.mark.parametrize(
    ("query", "says"),
    [
        (ask("tower_peak", "idle", cylinder=5), "no cylinder 5; it has 1 to 4"),
        (ask("tower_peak", "idle"), "which cylinder"),
        (ask("valve_event", "idle", valve="2.intake"), "opens or where it shuts"),
        (ask("valve_event", "idle", valve="inlet"), "no valve is called “inlet”"),
        (ask("lift_seen", "off", valve="9.intake"), "no cylinder 9"),
        (ask("leak_path", "off", cylinder=1, word="plug_hole"), "plug’s seat"),
        (ask("leak_path", "off", cylinder=9, word="intake"), "no cylinder 9"),
    ],
)
def test_places_it_has_not_are_refused_in_a_line(query, says):
    reason = why_not(model_of(), query)
    assert reason is not None
    assert says in reason
    assert "\n" not in reason


def test_a_speed_that_is_said_is_taken():
    slow, fast = (look(ask("loss_angle", "cranking", rpm, cylinder=1)) for rpm in (120.0, 300.0))
    assert slow > fast + 0.5


def test_the_compiler_waits_until_tables_are_made():
    """Asking what can be predicted and what sound engines differ in fills no tables."""
    program = (
        "import sys\n"
        "from witnessmark.engine.library import find_engine\n"
        "from witnessmark.predict import DriveModel, nuisances, why_not\n"
        "from witnessmark.vocabulary import Condition, Place, Query\n"
        "model = DriveModel.of(find_engine('made-up four'))\n"
        "names = ('tower_peak', 'imep', 'contribution', 'cylinder_leakage')\n"
        "asked = [Query(name, Place.of(cylinder=1), Condition('idle')) for name in names]\n"
        "assert [why_not(model, query) for query in asked] == [None] * 4 and len(nuisances(model, asked)) > 20\n"
        "assert 'numba' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", program], check=True)


def test_an_open_speed_is_told_and_a_noted_one_is_not():
    """A running engine's speed by its state, a cranked one's by starter and battery, none where it was noted."""
    model = model_of()
    shuts = {"valve": "2.intake.shuts"}

    def told(query):
        return {one.variable for one in nuisances(model, [query])}

    assert "speed:idle" in told(ask("valve_event", "idle", **shuts))
    assert "battery_resistance" in told(ask("valve_event", "cranking", **shuts))
    for state in ("idle", "cranking"):
        noted = told(ask("valve_event", state, 300.0, **shuts))
        assert not {"speed:idle", "battery_resistance"} & noted
