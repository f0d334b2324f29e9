"""Every code is predicted or says why not; and what is broken sets the code that speaks of it, by physics.

What each code speaks about is the standard's (SAE J2012 / ISO 15031-6). Which end a circuit goes to follows from how it
is wired: a thermistor under a pull-up reads high volts when open and low ones when shorted (common practice, no
source); limits are our own guess.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.starting_cases import bare, engines
from witnessmark.catalogue.codes import codes
from witnessmark.engine.state import HEALTHY, State
from witnessmark.predict import DriveModel
from witnessmark.predict.batch import Batch
from witnessmark.predict.codelimits import LIMITS, OF_THE_DRIVE
from witnessmark.predict.codenames import bank_meant, cam_meant, meant
from witnessmark.predict.codes import code_chance, is_predicted, limits_of
from witnessmark.predict.codeunpredicted import why_no_chance

V6, FOUR, TURBO, BELT = "made-up v6 with links", "made-up four", "made-up four turbo", "made-up four with belt"


def chance(name, edits=None, engine=FOUR):
    model = model_of(engine) if isinstance(engine, str) else engine
    found = code_chance(model, name, State(dict(edits or {})), {}, 1)
    return None if found is None else float((found @ limits_of(model.engine)[1])[0])


@cache
def laid_out(engine):
    """All edits of an engine side by side, a sound one first: one run of each model for all of them."""
    edits = [edit for _, _, name, edit in (*CIRCUITS, *CROSSED) if name == engine]
    columns = {}
    for i, (variable, place, value) in enumerate(edits, start=1):
        start = np.full(len(edits) + 1, HEALTHY.get(variable, place))
        columns.setdefault((variable, place), start)[i] = value
    return edits, Batch(model_of(engine), State(columns), {}, len(edits) + 1)


def beside(name, engine, edit):
    """Chance of a code on a sound engine, and on the one with the edit; 0 where the engine has no such code."""
    edits, batch = laid_out(engine)
    found = code_chance(batch.model, name, batch.state, {}, batch.rows, batch=batch)
    each = np.zeros(batch.rows) if found is None else found @ limits_of(batch.model.engine)[1]
    return float(each[0]), float(each[1 + edits.index(edit)])


def test_every_code_is_predicted_on_some_engine_or_says_why_not():
    """Cylinders 9 to 12 on an engine of which nothing is known but that it has twelve."""
    # Those that have most come first: most codes need no other.
    every = [model_of("made-up V6 with second chains"), model_of(TURBO), bare(12), *engines()]
    shared = [Batch(model, HEALTHY, {}, 1) for model in every]
    for name, code in codes().items():
        reason = why_no_chance(code)
        found = (code_chance(one.model, name, HEALTHY, {}, 1, batch=one) for one in shared)
        given = any(chances is not None for chances in found)
        assert given == (reason is None) == is_predicted(code), (name, code.words, reason)


def test_reasons_are_sentences_and_few_are_needed():
    reasons = {name: why_no_chance(code) for name, code in codes().items()}
    predicted = [name for name, reason in reasons.items() if reason is None]
    assert len(predicted) > 400
    assert all(len(reason) > 20 for reason in reasons.values() if reason)


def test_every_named_limit_is_known():
    named = {code.limit for code in codes().values() if code.limit and why_no_chance(code) is None}
    assert named <= {*LIMITS, *OF_THE_DRIVE}
    assert {*LIMITS} <= {code.limit for code in codes().values()}
    for limit in LIMITS.values():
        assert sum(limit.odds) == pytest.approx(1.0)
        assert len(limit.values) == len(limit.odds)


# ---------------------------------------------------------------- circuits

OPEN, SHORT = 1e9, 10.0

CIRCUITS = [
    # code that is set, code that is not, engine, edit
    ("P0118", "P0117", FOUR, ("resistance", "ect", OPEN)),
    ("P0117", "P0118", FOUR, ("shorting", "ect", SHORT)),
    ("P0118", "P0117", FOUR, ("shorting", "ect:supply", SHORT)),
    ("P0113", "P0112", FOUR, ("resistance", "iat", OPEN)),
    ("P0119", "P0118", FOUR, ("dropout_rate", "ect", 60.0)),
    ("P0122", "P0123", FOUR, ("shorting", "throttle_sensor", SHORT)),
    ("P0123", "P0122", FOUR, ("shorting", "throttle_sensor:supply", SHORT)),
    ("P2122", "P2123", FOUR, ("shorting", "pedal", SHORT)),
    ("P0102", "P0103", FOUR, ("resistance", "maf", OPEN)),
    ("P0327", "P0328", FOUR, ("shorting", "knock", SHORT)),
    ("P0328", "P0327", FOUR, ("shorting", "knock:supply", SHORT)),
    ("P0131", "P0132", FOUR, ("shorting", "o2_front_1", SHORT)),
    ("P0132", "P0131", FOUR, ("shorting", "o2_front_1:supply", SHORT)),
    ("P0134", "P0131", FOUR, ("resistance", "o2_front_1", OPEN)),
    ("P0134", "P0140", FOUR, ("sensor_gain", "o2_front_1", 0.0)),
    ("P0140", "P0134", FOUR, ("resistance", "o2_rear_1", OPEN)),
    ("P0158", "P0138", V6, ("shorting", "o2_rear_2:supply", SHORT)),
    ("P0135", "P0141", FOUR, ("winding", "o2_front_1", OPEN)),
    ("P0030", "P0032", FOUR, ("winding", "o2_front_1", OPEN)),
    ("P0053", "P0054", FOUR, ("winding", "o2_front_1", 2.5)),
    ("P0201", "P0202", FOUR, ("winding", "injector_1", OPEN)),
    ("P0203", "P0204", FOUR, ("resistance", "injector_3", OPEN)),
    ("P0262", "P0261", FOUR, ("shorting", "injector_1:supply", SHORT)),
    ("P0261", "P0262", FOUR, ("shorting", "injector_1", SHORT)),
    ("P0351", "P0352", FOUR, ("winding", "coil_1", OPEN)),
    ("P0443", "P0201", FOUR, ("winding", "purge", OPEN)),
    ("P0444", "P0459", FOUR, ("resistance", "purge", OPEN)),
    ("P0459", "P0458", FOUR, ("shorting", "purge:supply", SHORT)),
    ("P0403", "P0443", BELT, ("winding", "egr", OPEN)),
    ("P0243", "P0443", TURBO, ("winding", "wastegate", OPEN)),
    ("P2089", "P2088", FOUR, ("winding", "oil_valve_b1_intake", 0.1)),
    ("P0642", "P0643", FOUR, ("shorting", "ref_a", SHORT)),
]


@pytest.mark.parametrize(("sets", "leaves", "engine", "edit"), CIRCUITS)
def test_a_broken_circuit_sets_its_own_code(sets, leaves, engine, edit):
    sound, broken = beside(sets, engine, edit)
    assert sound < 0.04
    assert broken > max(0.2, 5.0 * sound), (broken, sound)
    assert broken > 2.0 * beside(leaves, engine, edit)[1]


def test_a_broken_circuit_stops_the_other_monitors_of_its_sensor():
    """Common practice, no source: what a sensor shows is not judged while its circuit counts as broken."""
    for circuit, plausible, part in (("P0118", "P0116", "ect"), ("P0113", "P0111", "iat"), ("P0102", "P0101", "maf")):
        edits = {("resistance", part): OPEN}
        assert chance(circuit, edits) > 0.8 > 0.15 > chance(plausible, edits)


def test_an_open_ground_takes_all_thermistors_up():
    """The current of a pull-up finds no way: both sit at the reference, as if it were cold beyond all sense."""
    edits = {("resistance", "sensor_ground"): OPEN}
    for high, low in (("P0118", "P0117"), ("P0113", "P0112")):
        assert chance(high, edits) > 0.8 > 0.1 > chance(low, edits)


def test_a_blown_fuse_opens_all_that_hangs_on_it():
    """Whatever feeds the injectors: the codes of all of them, and of no coil."""
    feed = meant(model_of(BELT).engine, codes()["P2146"])[0][0]
    edits = {("resistance", feed): OPEN}
    assert min(chance(f"P020{k}", edits, BELT) for k in (1, 2, 3, 4)) > 0.8
    assert chance("P2146", edits, BELT) > 0.3
    assert chance("P0351", edits, BELT) < 0.1


def test_a_dead_driver_opens_what_it_drives():
    edits = {("driver_ok", "ecu"): 0.0}
    assert min(chance(name, edits) for name in ("P0201", "P0351", "P0443")) > 0.8


# ---------------------------------------------------------------- quantities beyond limits

CROSSED = [
    ("P0116", "P0111", FOUR, ("sensor_offset", "ect", 50.0)),
    ("P0111", "P0116", FOUR, ("sensor_offset", "iat", 50.0)),
    ("P0128", "P0117", FOUR, ("thermostat_temp", "engine", 50.0)),
    ("P0106", "P0102", FOUR, ("sensor_offset", "map", -28.0)),
    ("P0069", "P0102", FOUR, ("sensor_offset", "map", -28.0)),
    ("P0133", "P0139", FOUR, ("sensor_lag", "o2_front_1", 2.0)),
    ("P0139", "P0133", FOUR, ("sensor_lag", "o2_rear_1", 2.0)),
    # A biased front sensor reads what is asked, for the loop is closed through it: only what trims cannot reach shows.
    ("P2195", "P2196", FOUR, ("sensor_gain", "maf", 0.65)),
    ("P2271", "P2270", FOUR, ("sensor_offset", "o2_rear_1", -0.2)),
    ("P2097", "P2096", FOUR, ("sensor_offset", "o2_rear_1", -0.1)),
    ("P2A00", "P2A02", FOUR, ("sensor_gain", "maf", 0.65)),
    ("P2135", "P2138", FOUR, ("sensor_noise", "throttle_sensor", 100.0)),
    ("P2138", "P2135", FOUR, ("sensor_noise", "pedal", 100.0)),
    ("P0420", "P0430", V6, ("oxygen_storage", "bank_1", 0.05)),
    ("P0430", "P0420", V6, ("oxygen_storage", "bank_2", 0.05)),
    ("P0301", "P0302", FOUR, ("coil_energy", "coil_1", 0.0)),
    ("P0314", "P0300", FOUR, ("coil_energy", "coil_1", 0.0)),
    ("P0171", "P0172", FOUR, ("sensor_gain", "maf", 0.6)),
    ("P2187", "P2188", FOUR, ("sensor_gain", "maf", 0.6)),
    ("P0170", "P0172", FOUR, ("sensor_gain", "maf", 0.6)),
    ("P0087", "P0088", TURBO, ("high_pump_flow", "high_pump", 0.05)),
    ("P008A", "P008B", FOUR, ("lift_pump_flow", "pump", 0.1)),
    ("P0299", "P0234", TURBO, ("area_error", "wastegate", 300.0)),
    ("P2336", "P0301", FOUR, ("clearance_scale", "cylinder_1", 0.7)),
    ("P0507", "P0506", FOUR, ("area_error", "throttle", 60.0)),
    ("P0524", "P0562", FOUR, ("oil_supply", "engine", 0.1)),
    ("P2503", "P2504", FOUR, ("alternator_output", "alternator", 0.0)),
    ("P0562", "P0563", FOUR, ("resistance", "ecu", 6.0)),
    ("P0315", "P2176", FOUR, ("learnt_error", "crank_variation", -0.8)),
    ("P2176", "P0315", FOUR, ("learnt_error", "throttle_zero", 6.0)),
    ("U0100", "U0101", TURBO, ("module_silent", "ecu", 1.0)),
    ("U0001", "P0562", FOUR, ("shorting", "can", 10.0)),
    ("P0513", "U0100", FOUR, ("inhibit", "ecu", 1.0)),
    ("P0040", "P0041", V6, ("circuit_map", "o2_front_1", 1.0)),
    ("P2647", "P0026", FOUR, ("valve_mode_error", "cylinder_2", 1.0)),
    ("P052B", "P052A", FOUR, ("wheel_slip", "b1.intake", -25.0)),
    ("P0322", "P0201", FOUR, ("sensor_gain", "crank", 0.0)),
]


@pytest.mark.parametrize(("sets", "leaves", "engine", "edit"), CROSSED)
def test_a_quantity_beyond_its_limit_sets_the_code(sets, leaves, engine, edit):
    sound, crossed = beside(sets, engine, edit)
    assert sound < 0.04
    assert crossed > max(0.15, 4.0 * sound), (crossed, sound)
    assert crossed > 1.8 * beside(leaves, engine, edit)[1]


def test_side_by_side_as_each_alone():
    names = ("P0118", "P0261", "P0171", "P0133", "P0642", "P0128")
    model = model_of()
    rng = np.random.default_rng(5)
    columns = {
        ("resistance", "ect"): rng.uniform(0.02, 1e5, 4),
        ("winding", "injector_1"): rng.uniform(0.2, 3.0, 4),
        ("sensor_gain", "maf"): rng.uniform(0.6, 1.2, 4),
        ("sensor_lag", "o2_front_1"): rng.uniform(0.0, 2.0, 4),
        ("thermostat_temp", "engine"): rng.uniform(50.0, 95.0, 4),
    }
    together = Batch(model, State(columns), {}, 4)
    for name in names:
        many = code_chance(model, name, together.state, {}, 4, batch=together)
        one = State({key: float(column[-1]) for key, column in columns.items()})
        np.testing.assert_allclose(many[-1], code_chance(model, name, one, {}, 1)[0], rtol=1e-6)


# ---------------------------------------------------------------- what letters and numbers are on an engine


def test_letters_of_cams_go_by_the_description_else_stay_candidates():
    described = model_of(a_is="exhaust").engine
    assert cam_meant(described, 1, True) == (("b1.exhaust", 1.0),)
    assert cam_meant(described, 1, False) == (("b1.intake", 1.0),)
    open_one = model_of(a_is=None).engine
    assert dict(cam_meant(open_one, 1, True)).keys() == {"b1.intake", "b1.exhaust"}
    assert sum(odds for _, odds in cam_meant(open_one, 1, True)) == pytest.approx(1.0)
    assert cam_meant(described, 2, True) == ()


def test_bank_1_is_the_bank_of_cylinder_1():
    """SAE J2012, from memory."""
    engine = model_of(V6).engine
    turned = replace(engine, bank_cylinders=tuple(reversed(engine.bank_cylinders or ((1, 3, 5), (2, 4, 6)))))
    assert (bank_meant(engine, 1), bank_meant(engine, 2)) == (1, 2)
    assert (bank_meant(turned, 1), bank_meant(turned, 2)) == (2, 1)
    assert bank_meant(model_of().engine, 2) is None
    assert meant(turned, codes()["P0137"]) == (("o2_rear_2", 1.0),)
    assert meant(engine, codes()["P0137"]) == (("o2_rear_1", 1.0),)
    assert meant(engine, codes()["P0143"]) == ()  # a third sensor


def test_letters_of_coils_and_tracks_are_candidates():
    engine = model_of().engine
    assert engine.firing_order[:2] == (1, 3)
    assert meant(engine, codes()["P0351"]) == (("coil_1", 1.0),)
    assert dict(meant(engine, codes()["P0352"])).keys() == {"coil_2", "coil_3"}
    assert meant(engine, codes()["P0356"]) == ()
    first = [meant(engine, codes()[name])[0][0] for name in ("P0122", "P0222", "P2122")]
    assert first == ["throttle_sensor", "throttle_sensor", "pedal"]


def test_without_any_description():
    model = DriveModel.of(bare().engine)
    assert chance("P0102", {("resistance", "maf"): OPEN}, model) > 0.3
    assert chance("P0118", {("resistance", "ect"): OPEN}, model) > 0.8
