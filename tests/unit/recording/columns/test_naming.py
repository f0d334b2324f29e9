"""Headings: words of six languages (from general knowledge of the trade, no source), whole, glued, short, misspelt."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.recording.columns.lexicon import lexicon
from witnessmark.recording.columns.naming import heading_pieces, mended, name_costs
from witnessmark.recording.columns.pieces import UNREAD, folded
from witnessmark.recording.columns.places import heading_place, signals_at
from witnessmark.recording.parameters import parameters


def named(heading: str) -> str:
    """The signal that a heading alone says."""
    pieces = heading_pieces(heading)
    costs = name_costs(pieces)
    best = min(costs, key=lambda parameter: costs[parameter].cost)
    return str(signals_at(best, heading_place(pieces))[0][0])


@pytest.mark.parametrize(
    ("heading", "signal"),
    [
        ("Engine coolant temperature", "coolant"),
        ("Kühlmitteltemperatur", "coolant"),
        ("KUEHLMITTELTEMP", "coolant"),
        ("Température du liquide de refroidissement", "coolant"),
        ("temp_refrigerante", "coolant"),
        ("Temperatura do líquido de arrefecimento", "coolant"),
        ("Temperatura liquido raffreddamento", "coolant"),
        ("enginespeed", "engine_speed"),
        ("Motordrehzahl", "engine_speed"),
        ("Régime moteur", "engine_speed"),
        ("STFT2", "short_trim bank=2"),
        ("Ajuste de combustible a largo plazo banco 1", "long_trim bank=1"),
        ("O2S12", "o2_voltage bank=1 sensor=2"),
        ("Spannung Lambdasonde vor Kat", "o2_voltage bank=1 sensor=1"),
        ("Misfires cylinder 3", "misfire_count cylinder=3"),
        ("km/h", "vehicle_speed"),
        ("T. H2O", "coolant"),
        ("AjCorto2", "short_trim bank=2"),
        ("VVT ex des", "cam_target bank=1 cam=exhaust"),
        ("CamExBank1Act", "cam_actual bank=1 cam=exhaust"),
        ("Sonda a jusante", "o2_voltage bank=1 sensor=2"),
        ("Mengenregelventil", "rail_effort"),
        ("Tempo da cancellazione errori", "time_cleared"),
        ("Percorrenza con spia avaria", "distance_lamp"),
        ("VelRuotaAntSx", "nothing"),
        ("Nockenwelle Einlass Soll Bank 2", "cam_target bank=2 cam=intake"),
        ("VVT actual B1 A", "cam_actual bank=1 cam=A"),
        ("AccelPedalPosD", "pedal track=1"),
        ("Position pédale d'accélérateur", "pedal"),
        ("Drosselklappe 2", "throttle track=2"),
        ("GPS speed", "nothing"),
        ("Öldruck", "oil_pressure"),
        ("A/C switch", "nothing"),
    ],
)
def test_headings(heading, signal):
    assert named(heading) == signal


@pytest.mark.parametrize(
    ("spoilt", "sound"), [("KÃ¼hlmittel", "Kühlmittel"), ("PresiÃ³n", "Presión"), ("K?hlmittel", f"K{UNREAD}hlmittel")]
)
def test_mending(spoilt, sound):
    assert mended(spoilt) == sound


def test_spoilt_accents_are_read():
    assert named("TempÃ©rature dâ\x80\x99huile") == "oil_temperature"
    assert named("K?hlmitteltemperatur") == "coolant"


def test_vowels_left_out():
    assert named("Cntrl Mdl Vltg") == "volts"
    assert named("Khlmttl Tmprtr") == "coolant"


def test_every_parameter_has_a_name_and_every_word_a_concept():
    words = lexicon()
    assert {pattern.parameter for pattern in words.patterns} == set(parameters())
    known = set(words.weights)
    assert {concept for pattern in words.patterns for concept in pattern.concepts} <= known
    assert {concept for meanings in words.words.values() for meaning in meanings for concept in meaning} <= known
    assert all(word == folded(word) for word in words.words)


@given(st.text(max_size=60))
def test_any_heading_is_borne(text):
    costs = name_costs(heading_pieces(text))
    assert all(0.0 <= match.cost <= 30.0 for match in costs.values())


def test_a_long_heading_takes_no_long_time_or_space():
    assert len(heading_pieces("x" * 100_000)) <= 2
    assert len(heading_pieces("Temp " * 100_000)) <= 50
