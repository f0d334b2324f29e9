"""Which wheel, which edge: found from the edges of simulated wheels, with odds; and what is none stays none."""

import numpy as np
import pytest

from tests.unit.decode.wheelsim import Sensor, read_wheel, turning
from witnessmark.decode.identify import identify_wheel, suggest_wheels
from witnessmark.engine.tonewheel import candidates, missing, parse_wheel, plain, plus

NAMES = ("60-2", "36-1", "36-2", "36-2-1", "36-2-2", "36-2-2-2", "24-1", "24 uneven", "12-1", "12+1", "4 uneven", "4-1")


@pytest.mark.parametrize(("rpm", "ripple", "even_rising"), [(200.0, 0.2, True), (1500.0, 0.02, False)])
@pytest.mark.parametrize("name", NAMES)
def test_the_named_wheel_and_its_even_edge_are_found(name: str, rpm: float, ripple: float, even_rising: bool) -> None:
    pattern = parse_wheel(name)
    sensor = Sensor(
        even_rising, pitch_sd_deg=0.1, jitter_deg=0.03, uneven_deg=0.15 * min(min(pattern.gaps_deg), 30.0), seed=4
    )
    edges = read_wheel(pattern, turning(rpm, 12, start_deg=50.0, ripple=ripple), sensor)
    found = identify_wheel(edges.times_s, edges.rising)
    assert found.best is not None
    assert found.best.pattern.edges_deg == pytest.approx(pattern.edges_deg)
    assert found.best.odds > 0.9
    assert found.best.rising == even_rising
    assert sum(g.odds for g in found.guesses) + found.odds_none == pytest.approx(1.0)


@pytest.mark.parametrize(
    "pattern",
    [missing(48, [3]), missing(30, [1]), missing(72, [2, 1], [40, 29]), missing(60, [2, 2], [20, 36])],
    ids=str,
)
def test_a_wheel_of_no_usual_name_is_suggested_by_its_gaps(pattern: object) -> None:
    edges = read_wheel(pattern, turning(900.0, 12, ripple=0.03), Sensor(pitch_sd_deg=0.1, jitter_deg=0.03))  # type: ignore[arg-type]
    found = identify_wheel(edges.times_s, edges.rising)
    assert found.best is not None
    assert found.best.pattern.edges_deg == pytest.approx(pattern.edges_deg)  # type: ignore[attr-defined]
    assert found.best.pattern.name == str(pattern)


def test_an_added_tooth_is_suggested_where_it_stands() -> None:
    edges = read_wheel(plus(20, 1, 0.4), turning(900.0, 12, ripple=0.02), Sensor(pitch_sd_deg=0.05))
    found = [w for w in suggest_wheels(edges.even()) if w.name == "20+1"]
    assert found
    assert found[0].gaps_deg[0] == pytest.approx(0.4 * 18.0, abs=0.4)


def test_the_order_behind_a_name_is_found_among_its_candidates() -> None:
    truth = candidates("36-2-1")[5]
    edges = read_wheel(truth, turning(900.0, 8, ripple=0.03), Sensor(pitch_sd_deg=0.1, jitter_deg=0.03))
    found = identify_wheel(edges.times_s, edges.rising, patterns=candidates("36-2-1"))
    assert found.guesses[0].pattern == truth


@pytest.mark.parametrize("n", [1, 2, 4, 24])
def test_equal_teeth_have_no_name_but_are_regular(n: int) -> None:
    edges = read_wheel(plain(n), turning(300.0, 20, ripple=0.1), Sensor(pitch_sd_deg=0.1, jitter_deg=0.03))
    found = identify_wheel(edges.times_s, edges.rising)
    assert found.best is None
    assert found.regular
    assert found.odds_none > 0.9


def test_pulses_at_random_are_no_wheel(rng: np.random.Generator) -> None:
    for _ in range(2):
        times = np.sort(rng.uniform(0.0, 3.0, 300))
        found = identify_wheel(times, np.arange(300) % 2 == 0)
        assert found.best is None
        assert not found.regular


def test_few_edges_decide_nothing() -> None:
    found = identify_wheel(np.linspace(0.0, 0.1, 8), np.arange(8) % 2 == 0)
    assert found.best is None or found.best.odds < 0.9
