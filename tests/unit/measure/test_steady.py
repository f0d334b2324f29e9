"""Which edges of a cam stand at its teeth: the other crossing of a coil lies anywhere between them."""

from __future__ import annotations

import numpy as np

from witnessmark.decode.cam import RepeatingEdge
from witnessmark.measure.cams import steady, zero_wander_deg


def edge(rising: bool, at_deg: float, scatter_deg: float, *, creeps_deg: float = 0.0, seed: int = 1) -> RepeatingEdge:
    """An edge seen forty times, scattering, and creeping from one end to the other."""
    rng = np.random.default_rng(seed + int(at_deg))
    angles = at_deg + rng.normal(0.0, scatter_deg, 40) + creeps_deg * np.linspace(-0.5, 0.5, 40)
    return RepeatingEdge(rising, np.arange(40) * 0.15, angles, np.full(40, 800.0), 0.1, 0.02, 40)


def test_edges_that_scatter_alike_are_all_kept() -> None:
    edges = [edge(False, 40.0, 0.1), edge(True, 110.0, 0.1), edge(False, 215.0, 0.12), edge(True, 330.0, 0.13)]
    assert steady(edges) == edges
    assert {e.rising for e in steady(edges, coil=True)} in ({True}, {False})


def test_the_kind_that_lies_anywhere_is_left_out() -> None:
    edges = [edge(False, 40.0, 0.1), edge(True, 110.0, 1.5), edge(False, 215.0, 0.1), edge(True, 330.0, 2.0)]
    assert steady(edges) == [edges[0], edges[2]]


def test_fine_edges_need_no_choice() -> None:
    edges = [edge(False, 40.0, 0.01), edge(True, 110.0, 0.05)]
    assert steady(edges) == edges


def test_a_zero_that_wanders_shows_between_the_teeth() -> None:
    still = [edge(False, 40.0, 0.1), edge(True, 110.0, 0.2)]
    assert zero_wander_deg(still) == 0.0
    creeping = [edge(False, 40.0, 0.1, creeps_deg=1.0), edge(True, 110.0, 0.5, creeps_deg=-20.0)]
    assert 0.2 < zero_wander_deg(creeping) < 0.4
    assert zero_wander_deg([]) == 0.0
