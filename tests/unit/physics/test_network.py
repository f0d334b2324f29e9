"""Resistor networks: Kirchhoff's laws on random graphs, textbook combinations, and dense linear algebra."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.network import NetworkSolution, eliminate, reduce_network, solve_network

Graph = tuple[int, list[tuple[int, int]], np.ndarray, np.ndarray]


def random_graph(seed: int) -> Graph:
    """A connected graph with loops, 5 sets of conductances from an open wire (1e-9 S) to a bolted joint (1e4 S)."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 40))
    branches = [(int(rng.integers(0, k)), k) for k in range(1, n)]
    branches += [(a, b) for a, b in rng.integers(0, n, (n // 2, 2)).tolist() if a != b]
    siemens = 10.0 ** rng.uniform(-9.0, 4.0, (5, len(branches)))
    return n, branches, siemens, rng.uniform(-15.0, 15.0, (5, 2))


def solved(graph: Graph, injected: np.ndarray | None = None) -> NetworkSolution:
    n, branches, siemens, volts = graph
    return solve_network(n, branches, siemens=siemens, fixed=[0, n - 1], fixed_volts=volts, injected=injected)


@given(st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_currents_close_at_every_node(seed: int) -> None:
    """Kirchhoff's current law, to 1e-9 of the currents that meet there, thirteen decades of conductance apart.

    A dead end carries no current at all, and what rounding leaves there is held against 1e-24 A instead.
    """
    graph = random_graph(seed)
    n, branches, siemens, _ = graph
    amps = solved(graph).amps
    for node in range(1, n - 1):
        signs = np.array([(a == node) - (b == node) for a, b in branches], dtype=float)
        gross = np.abs(amps) @ np.abs(signs)
        assert np.all(np.abs(amps @ signs) <= 1e-9 * gross + 1e-24)
    assert amps.shape == siemens.shape


@given(st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_agrees_with_dense_linear_algebra(seed: int) -> None:
    """Against the reduced Laplacian and numpy.linalg, with currents driven in, where that is well conditioned."""
    n, branches, _, volts = random_graph(seed)
    rng = np.random.default_rng(seed + 1)
    siemens = 10.0 ** rng.uniform(-1.0, 1.0, (5, len(branches)))
    injected = rng.uniform(-2.0, 2.0, (5, n))
    found = solved((n, branches, siemens, volts), injected).volts
    incidence = np.zeros((len(branches), n))
    for row, (a, b) in enumerate(branches):
        incidence[row, a], incidence[row, b] = 1.0, -1.0
    inner, outer = slice(1, n - 1), [0, n - 1]
    for i in range(5):
        laplacian = incidence.T @ np.diag(siemens[i]) @ incidence
        right = injected[i, inner] - laplacian[inner, :][:, outer] @ volts[i]
        assert found[i, inner] == pytest.approx(np.linalg.solve(laplacian[inner, inner], right), rel=1e-9, abs=1e-9)


@given(st.integers(0, 10**6))
@settings(max_examples=30, deadline=None)
def test_the_power_of_the_sources_is_the_heat_in_the_branches(seed: int) -> None:
    """Tellegen's theorem, which the solver does not use."""
    graph = random_graph(seed)
    n, branches, siemens, fixed = graph
    found = solved(graph)
    heat = np.sum(np.divide(found.amps**2, siemens), axis=1)
    into = np.zeros((5, n))
    for k, (a, b) in enumerate(branches):
        into[:, a] += found.amps[:, k]
        into[:, b] -= found.amps[:, k]
    assert np.sum(into[:, [0, n - 1]] * fixed, axis=1) == pytest.approx(heat, rel=1e-9)


def between(branches: list[tuple[int, int]], ohms: list[float], n: int) -> float:
    """Resistance between the first and the last node, by 1 V across them."""
    siemens = 1.0 / np.array([ohms])
    found = solve_network(n, branches, siemens=siemens, fixed=[0, n - 1], fixed_volts=np.array([[1.0, 0.0]]))
    return float(1.0 / sum(found.amps[0, k] for k, (a, _) in enumerate(branches) if a == 0))


@pytest.mark.parametrize(
    ("branches", "ohms", "n", "expected"),
    [
        ([(0, 1), (1, 2), (2, 3)], [1.0, 2.0, 3.0], 4, 6.0),  # in series they add
        ([(0, 1), (0, 1)], [2.0, 2.0], 2, 1.0),  # in parallel their conductances add
        ([(0, 1), (0, 1), (0, 1)], [2.0, 3.0, 6.0], 2, 1.0),
        ([(0, 1), (1, 2), (1, 2)], [1.0, 4.0, 4.0], 3, 3.0),
        # A bridge in balance carries nothing across: 1 Ω + 2 Ω beside 2 Ω + 4 Ω.
        ([(0, 1), (1, 3), (0, 2), (2, 3), (1, 2)], [1.0, 2.0, 2.0, 4.0, 7.0], 4, 2.0),
        # Across one edge of a tetrahedron of equal resistors, R/2; twelve on a cube, corner to corner, 5/6 R: textbook.
        ([(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)], [1.0] * 6, 4, 0.5),
        (
            [(a, b) for a in range(8) for b in range(a + 1, 8) if bin(a ^ b).count("1") == 1],
            [1.0] * 12,
            8,
            5.0 / 6.0,
        ),
    ],
)
def test_textbook_combinations(branches: list[tuple[int, int]], ohms: list[float], n: int, expected: float) -> None:
    assert between(branches, ohms, n) == pytest.approx(expected, rel=1e-12)


def test_what_hangs_on_nothing_has_no_potential_and_no_current() -> None:
    siemens = np.array([[1.0, 0.0, 2.0]])
    found = solve_network(4, [(0, 1), (1, 2), (2, 3)], siemens=siemens, fixed=[0], fixed_volts=np.array([[12.0]]))
    assert found.volts[0, :2].tolist() == [12.0, 12.0]
    assert np.isnan(found.volts[0, 2:]).all()
    assert found.amps[0].tolist() == [0.0, 0.0, 0.0]


def test_one_open_branch_leaves_the_other_rows_alone() -> None:
    siemens = np.array([[1.0, 1.0], [1.0, 0.0], [1.0, 3.0]])
    fixed = np.array([[12.0, 0.0]] * 3)
    found = solve_network(3, [(0, 1), (1, 2)], siemens=siemens, fixed=[0, 2], fixed_volts=fixed)
    assert found.volts[:, 1].tolist() == [6.0, 12.0, 3.0]


@pytest.mark.parametrize(
    ("branches", "siemens", "injected", "words"),
    [
        ([(0, 1)], -1.0, 0.0, "negative"),
        ([(0, 1)], np.nan, 0.0, "negative or endless"),
        ([(0, 1)], np.inf, 0.0, "endless"),
        ([(1, 1)], 1.0, 0.0, "itself"),
        ([(0, 1)], 0.0, 1.0, "nothing leads away"),
    ],
)
def test_what_cannot_be_is_refused(
    branches: list[tuple[int, int]], siemens: float, injected: float, words: str
) -> None:
    with pytest.raises(EngineDefinitionError, match=words):
        solve_network(
            2,
            branches,
            siemens=np.array([[siemens]]),
            fixed=[0],
            fixed_volts=np.array([[12.0]]),
            injected=np.array([[0.0, injected]]),
        )


# ---------------------------------------------------------------- reduced to a few nodes


@given(st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_what_is_left_is_the_schur_complement(seed: int) -> None:
    """Against dense linear algebra: the nodes that go are eliminated as a block (Kron's reduction, from memory)."""
    n, branches, siemens, _ = random_graph(seed)
    siemens = np.clip(siemens, 1e-3, 1e3)  # dense elimination loses its digits between an open wire and a bolt
    stays = [0, n - 1, *range(1, min(4, n - 1))]
    few = reduce_network(n, branches, siemens=siemens, fixed=[0, n - 1], left=stays[2:])
    assert list(few.left) == stays
    gone = [node for node in range(n) if node not in stays]
    for row, one in enumerate(siemens):
        whole = np.zeros((n, n))
        for (a, b), g in zip(branches, one, strict=True):
            whole[[a, b], [a, b]] += g
            whole[[a, b], [b, a]] -= g
        schur = whole[np.ix_(stays, stays)]
        if gone:
            schur = schur - whole[np.ix_(stays, gone)] @ np.linalg.solve(
                whole[np.ix_(gone, gone)], whole[np.ix_(gone, stays)]
            )
        found = np.zeros_like(schur)
        for (a, b), g in zip(few.mesh, few.siemens[row], strict=True):
            found[[a, b], [a, b]] += g
            found[[a, b], [b, a]] -= g
        assert np.allclose(found, schur, rtol=1e-8, atol=1e-9 * np.abs(whole).max())


@given(st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_the_whole_is_solved_through_what_is_left_as_at_once(seed: int) -> None:
    graph = random_graph(seed)
    n, branches, siemens, volts = graph
    injected = np.random.default_rng(seed).normal(size=(5, n))
    few = reduce_network(n, branches, siemens=siemens, fixed=[0, n - 1], left=[1])
    rest = eliminate(len(few.left), few.mesh, siemens=few.siemens, fixed=[0, 1])
    through, at_once = few.whole(rest, siemens).solve(volts, injected), solved(graph, injected)
    assert np.allclose(through.amps, at_once.amps, rtol=1e-7, atol=1e-9)
    alone = rest.solve(volts, few.injected(injected))
    scale = np.abs(at_once.volts).max()
    assert np.allclose(alone.volts, at_once.volts[:, list(few.left)], rtol=1e-7, atol=1e-9 * scale)
