"""Charging: the bridge against textbook integrals and its spectrum, the machine's limits, and the board's balance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.charging import (
    Alternator,
    alternator_amps,
    charging_volts,
    expected_ripple_volts,
    ripple_frequency,
    ripple_volts,
)
from witnessmark.physics.rectifier import bridge_kinds, diode_patterns, rectified, ripple_pattern

ONE = Alternator()
TURN = 2.0 * np.pi * np.arange(3600) / 3600


def test_a_sound_bridge_follows_the_crest_of_the_line_voltages() -> None:
    """Independent: max over the six line-to-line sines, each 60 degrees from the next."""
    crest = np.max([np.cos(TURN - np.pi / 6.0 - k * np.pi / 3.0) for k in range(6)], axis=0)
    assert rectified(TURN) == pytest.approx(crest, abs=1e-12)


def test_textbook_integrals_of_the_six_pulse_wave() -> None:
    """Mean 3/π, rms² 1/2 + 3√3/(4π), peak to peak 1 - cos 30°: integrals of a cosine over ±30°."""
    found = ripple_pattern()
    assert found.mean == pytest.approx(3.0 / np.pi, abs=1e-6)
    assert found.peak_to_peak == pytest.approx(1.0 - np.sqrt(0.75), abs=1e-12)
    rms = np.sqrt(0.5 + 3.0 * np.sqrt(3.0) / (4.0 * np.pi))
    assert found.rms_over_mean == pytest.approx(np.sqrt(rms**2 - (3.0 / np.pi) ** 2) / (3.0 / np.pi), rel=1e-3)
    assert found.pulses == 6


def lines(open_diodes: tuple[int, ...]) -> np.ndarray:
    return np.abs(np.fft.rfft(np.asarray(rectified(TURN, open_diodes)))) / len(TURN)


def test_an_open_diode_adds_lines_at_multiples_of_a_sixth() -> None:
    """By Fourier transform: sound, only 6, 12 …; one open, 1 and 2 as well."""
    sound, bad = lines(()), lines((0,))
    assert sound[6] > 0.01
    assert np.all(sound[1:6] < 1e-9)
    assert bad[1] > 0.05
    assert bad[2] > 0.02


@pytest.mark.parametrize("diode", range(6))
def test_any_one_open_diode_does_the_same(diode: int) -> None:
    """Where the phase without its diode is alone on its side, the other two are level and nothing is left: ripple 1."""
    one, first = ripple_pattern((diode,)), ripple_pattern((0,))
    assert one.mean == pytest.approx(first.mean)
    assert one.peak_to_peak == pytest.approx(1.0, abs=1e-6)
    assert one.mean < ripple_pattern().mean
    assert one.pulses < 6


def test_more_open_diodes_leave_less() -> None:
    means = [np.mean([ripple_pattern(p).mean for p in diode_patterns(n)]) for n in range(7)]
    assert np.all(np.diff(means[:5]) < 0.0)
    assert means[6] == 0.0
    assert ripple_pattern((0, 1, 2)).mean == 0.0  # no way to plus at all
    assert [len(diode_patterns(n)) for n in (0, 1, 2, 3)] == [1, 6, 15, 20]
    assert [sum(share for _, share in bridge_kinds(n)) for n in range(7)] == pytest.approx([1.0] * 7)


def test_frequency_counts_poles_and_pulley() -> None:
    assert ripple_frequency(800.0, ONE) == pytest.approx(1296.0)
    assert ripple_frequency(800.0, ONE, line=1.0) == pytest.approx(216.0)
    assert ripple_frequency(np.array([800.0, 1600.0]), Alternator(pole_pairs=8, pulley=3.0))[1] == pytest.approx(3840.0)


def test_output_against_the_phasors_of_the_machine() -> None:
    """Independent: the complex current (E - V)/jX that is in phase with V, per unit, speed by speed."""
    for ratio in (1.2, 2.0, 5.0):  # speed over cut-in; EMF and reactance grow with it
        emf, reactance, volts = ratio, ratio, 1.0
        amps = np.sqrt(emf**2 - volts**2) / reactance
        current = complex(amps, 0.0)
        assert abs(volts + 1j * reactance * current) == pytest.approx(emf)
        rpm = ratio * ONE.cut_in_rpm / ONE.pulley
        assert alternator_amps(rpm, ONE) == pytest.approx(ONE.most_amps * amps)


def test_nothing_below_cut_in_and_the_share_that_is_left() -> None:
    assert alternator_amps(ONE.cut_in_rpm / ONE.pulley, ONE) == 0.0
    assert alternator_amps(0.0, ONE) == 0.0
    whole, weak, bad = (alternator_amps(2000.0, ONE, output=o, diodes_open=d) for o, d in ((1, 0), (0.4, 0), (1, 1)))
    assert weak == pytest.approx(0.4 * whole)
    assert 0.5 * whole < bad < 0.95 * whole


@given(st.floats(0.0, 150.0), st.floats(0.1, 8.0), st.floats(12.0, 13.2), st.floats(0.003, 0.05))
def test_the_board_balances_or_is_regulated(available: float, load: float, emf: float, ohm: float) -> None:
    volts = charging_volts(available, ONE, load_siemens=load, emf=emf, battery_ohm=ohm)
    used = volts * load + (volts - emf) / ohm  # by consumers and battery
    assert used <= available + 1e-6
    if volts < ONE.regulated_volts:
        assert used == pytest.approx(available, abs=1e-6)


def test_charging_is_of_the_usual_order_and_a_weak_alternator_lets_it_fall() -> None:
    """13.5 to 14.8 V: common practice, no source (check values)."""
    amps = alternator_amps(2500.0, ONE, output=np.array([1.0, 0.2]))
    volts = charging_volts(amps, ONE, load_siemens=3.0, emf=13.1, battery_ohm=0.02, celsius=40.0)
    assert 13.5 < volts[0] < 14.8
    assert volts[1] < 13.0


def test_ripple_with_a_battery_is_of_the_usual_order() -> None:
    """Below about 0.1 V good, above 0.5 V bad, peak to peak: common practice, no source; 40 and 80 A here."""
    sound = ripple_volts(np.array([20.0, 40.0]), ONE, battery_ohm=0.006)
    assert np.all(sound < 0.15)
    bad = ripple_volts(np.array([40.0, 80.0]), ONE, battery_ohm=0.006, open_diodes=(0,))
    assert bad[0] > 3.0 * sound[1]
    assert bad[1] > 0.5
    assert ripple_volts(40.0, ONE, battery_ohm=0.03) > 2.0 * sound[1]  # a worn battery smooths less


def test_ripple_against_the_circuit_solved_sample_by_sample() -> None:
    """Independent: a crest is chosen, node voltages follow by hand, and mean and swing are told back."""
    crest, emf, own = 17.0, 12.9, 0.01
    wave = crest * np.asarray(rectified(2.0 * np.pi * np.arange(360) / 360, (1,)))
    volts = np.where(wave > emf, (wave / ONE.phase_ohm + emf / own) / (1 / ONE.phase_ohm + 1 / own), emf)
    amps = np.maximum(wave - volts, 0.0) / ONE.phase_ohm
    found = ripple_volts(amps.mean(), ONE, volts=volts.mean(), battery_ohm=own, open_diodes=(1,))
    assert found == pytest.approx(np.ptp(volts), rel=1e-6)


def test_expected_ripple_is_the_mean_over_all_places() -> None:
    """Independent: every one of the bridges by itself, counts mixed in one call."""
    counts = np.array([0.0, 1.0, 2.0, 3.0, 1.0])
    found = expected_ripple_volts(30.0, ONE, diodes_open=counts, battery_ohm=0.01)
    for count, volts in zip(counts, found, strict=True):
        each = [
            float(ripple_volts(30.0, ONE, battery_ohm=0.01, open_diodes=p)) if ripple_pattern(p).mean > 0.0 else 0.0
            for p in diode_patterns(int(count))
        ]
        assert volts == pytest.approx(np.mean(each), rel=1e-9)
    assert found[4] == found[1]
    many = alternator_amps(2000.0, ONE, diodes_open=counts)
    assert many[2] == pytest.approx(float(alternator_amps(2000.0, ONE, diodes_open=2)))
    assert np.all(np.diff(many[:4]) < 0.0)


def test_what_cannot_be_is_refused() -> None:
    for count in (-1.0, 0.5, 7.0, np.nan):
        with pytest.raises(EngineDefinitionError, match="count of open diodes"):
            alternator_amps(800.0, ONE, diodes_open=count)
    with pytest.raises(EngineDefinitionError, match="open diodes"):
        rectified(0.0, (6,))
    with pytest.raises(EngineDefinitionError, match="7 open diodes"):
        diode_patterns(7)
    with pytest.raises(EngineDefinitionError, match="output below zero"):
        alternator_amps(800.0, ONE, output=-0.1)
    with pytest.raises(EngineDefinitionError, match="battery without resistance"):
        charging_volts(10.0, ONE, load_siemens=1.0, emf=12.0, battery_ohm=0.0)
    with pytest.raises(EngineDefinitionError, match="battery without resistance"):
        ripple_volts(10.0, ONE, battery_ohm=0.0)
    with pytest.raises(EngineDefinitionError, match="carries nothing"):
        ripple_volts(10.0, ONE, battery_ohm=0.01, open_diodes=(0, 1, 2))
