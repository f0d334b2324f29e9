"""The kernel of :mod:`witnessmark.physics.gaspath`: gas volumes, flows between them, one step after another.

Two-stage Rosenbrock rule of second order (ROS2 of Verwer, Spee, Blom and Hundsdorfer, SIAM J. Sci. Comput. 20, 1999,
from memory): it stays second order whatever matrix stands for the derivatives, so only what is stiff goes into that
matrix, the flows' dependence on the pressures at their ends. Whatever a step passes through a link is taken from one
volume and given to the other: mass and energy close to rounding at any step.

Columns of the arrays:

- ``state[v]``: mass, inner energy, burnt mass;
- ``tables[v, angle]``: volume, its slope by crank angle (rad), wall area times Vᵃ, burning rate (1/rad);
- ``walls[v]``: factor of wall heat, wall temperature, heat and burnt mass for each kg of fresh charge, grid point at
  which the charge is taken stock of (below 0: never), angle the volume's tables are ahead (grid points);
- ``still[v]``: pressure, temperature of what does not live (reservoirs come after all that live);
- ``gas[cell]``: heat capacity of fresh and of burnt gas, inner energy of both;
- ``links[k]``: from, to, grid points its area is ahead.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from witnessmark.physics.nozzle import ROUNDED_OFF

__all__ = ["march"]

_GAMMA = 1.0 + 1.0 / math.sqrt(2.0)
"""Of the two roots that are stable in the limit, the one whose inner stage does not overshoot: an overshoot turns flows
round, mixes gas that never mixed, and empties small volumes that hang on large openings."""
_P, _T, _R, _CV, _X, _H, _DU, _DB, _WORK, _LOST, _FREED, _PM, _PU = range(13)


@njit(cache=True, nogil=True, error_model="numpy")
def _flow(area, high, low, t, r, cv):  # type: ignore[no-untyped-def]
    """Mass flow through an effective area from the higher pressure, and its slopes by both."""
    g = 1.0 + r / cv
    front = area * high / math.sqrt(r * t)
    ratio = low / high
    # No gas chokes above 0.57; the power is dear.
    if ratio < 0.57 and ratio <= (2.0 / (g + 1.0)) ** (g / (g - 1.0)):
        flow = front * math.sqrt(g) * (2.0 / (g + 1.0)) ** (0.5 * (g + 1.0) / (g - 1.0))
        return flow, flow / high, 0.0
    d = max(1.0 - ratio, 1e-12)
    root = ratio ** (1.0 / g)
    c = 2.0 * g / (g - 1.0)
    # The difference loses all digits near rest; there it is 2 d root².
    y = c * root * (root - ratio) if d > 1e-6 else 2.0 * d * root * root
    psi = math.sqrt(y)
    # The same rounding as nozzle.signed_flow's; compiled in, so a new value there needs the cache emptied.
    s2 = math.sqrt(d * d + ROUNDED_OFF * ROUNDED_OFF)
    half = math.sqrt(d)
    straight = half / math.sqrt(s2)
    flow = front * psi * straight
    by_ratio = 0.5 * c * (root / (g * ratio) * (2.0 * root - ratio) - root) / psi * straight
    by_ratio -= psi * straight * (0.5 / d - 0.5 * d / (s2 * s2))
    by_ratio *= front / high
    return flow, flow / high - by_ratio * ratio, by_ratio


@njit(cache=True, nogil=True, error_model="numpy")
def _rates(i, omega, na, state, tables, walls, power, burning, gas, first, step_k, constant, cells, now):  # type: ignore[no-untyped-def]
    """State and all rates that are not flow, of every volume that lives."""
    n_grid = tables.shape[1]
    for v in range(na):
        j = i + int(walls[v, 5])
        if j >= n_grid:
            j -= n_grid
        mass, here = state[v, 0], tables[v, j, 0]
        x = min(max(state[v, 2] / mass, 0.0), 1.0)
        y = 1.0 - x
        wanted = state[v, 1] / mass
        cell = cells[v]
        while cell + 2 < len(gas) and y * gas[cell + 1, 2] + x * gas[cell + 1, 3] < wanted:
            cell += 1
        while cell > 0 and y * gas[cell, 2] + x * gas[cell, 3] > wanted:
            cell -= 1
        cells[v] = cell
        rest = wanted - (y * gas[cell, 2] + x * gas[cell, 3])
        cv = y * gas[cell, 0] + x * gas[cell, 1]
        slope = (y * gas[cell + 1, 0] + x * gas[cell + 1, 1] - cv) / step_k
        # rest = cv d + slope d²/2, the root that does not lose digits.
        d = 2.0 * rest / (cv + math.sqrt(max(cv * cv + 2.0 * slope * rest, 0.0)))
        t, r = first + cell * step_k + d, y * constant[0] + x * constant[1]
        cv += slope * d
        p = mass * r * t / here
        work, lost, rate = p * tables[v, j, 1] * omega, 0.0, tables[v, j, 3] * omega
        if walls[v, 0] > 0.0:
            lost = walls[v, 0] * tables[v, j, 2] * math.exp(0.8 * math.log(p) + power * math.log(t)) * (t - walls[v, 1])
        freed = burning[v, 0] * rate
        now[v, _P], now[v, _T], now[v, _R], now[v, _CV], now[v, _X], now[v, _H] = p, t, r, cv, x, wanted + r * t
        now[v, _WORK], now[v, _LOST], now[v, _FREED] = work, lost, freed
        now[v, _DU], now[v, _DB] = freed - work - lost, burning[v, 1] * rate
        now[v, _PU] = r / (cv * here)
        now[v, _PM] = (r * t - r * wanted / cv) / here


@njit(cache=True, nogil=True, error_model="numpy")
def _flows(i, links, area, now, flows):  # type: ignore[no-untyped-def]
    """Mass flow of every link, positive from its first end to its second, and its slopes by both pressures."""
    n_grid = area.shape[1]
    for k in range(len(links)):
        j = i + links[k, 2]
        if j >= n_grid:
            j -= n_grid
        flows[k, 0] = flows[k, 1] = flows[k, 2] = 0.0
        if area[k, j] <= 0.0:
            continue
        a, b = links[k, 0], links[k, 1]
        if now[a, _P] >= now[b, _P]:
            flow, by_high, by_low = _flow(area[k, j], now[a, _P], now[b, _P], now[a, _T], now[a, _R], now[a, _CV])
            flows[k, 0], flows[k, 1], flows[k, 2] = flow, by_high, by_low
        else:
            flow, by_high, by_low = _flow(area[k, j], now[b, _P], now[a, _P], now[b, _T], now[b, _R], now[b, _CV])
            flows[k, 0], flows[k, 1], flows[k, 2] = -flow, -by_low, -by_high


@njit(cache=True, nogil=True, error_model="numpy")
def _set_matrix(na, gh, links, flows, now, upstream, matrix):  # type: ignore[no-untyped-def]
    """1 - γ h J in the pressures of what lives, taken apart in place (its diagonal leads: no row is exchanged)."""
    # Element by element, here and below: assigning a slice compiles twice as long, for the words of its complaint.
    for v in range(na):
        for c in range(na):
            matrix[v, c] = 0.0
        matrix[v, v] = 1.0
    for k in range(len(links)):
        a, b = links[k, 0], links[k, 1]
        if a < na:
            out = gh * (now[a, _PM] + now[a, _PU] * upstream[k])
            matrix[a, a] += out * flows[k, 1]
            if b < na:
                matrix[a, b] += out * flows[k, 2]
        if b < na:
            into = gh * (now[b, _PM] + now[b, _PU] * upstream[k])
            matrix[b, b] -= into * flows[k, 2]
            if a < na:
                matrix[b, a] -= into * flows[k, 1]
    for c in range(na):
        for row in range(c + 1, na):
            if matrix[row, c] != 0.0:
                f = matrix[row, c] / matrix[c, c]
                matrix[row, c] = f
                for k in range(c + 1, na):
                    matrix[row, k] -= f * matrix[c, k]


@njit(cache=True, nogil=True, error_model="numpy")
def _solve(matrix, right):  # type: ignore[no-untyped-def]
    n = len(matrix)
    for row in range(n):
        for c in range(row):
            right[row] -= matrix[row, c] * right[c]
    for row in range(n - 1, -1, -1):
        for c in range(row + 1, n):
            right[row] -= matrix[row, c] * right[c]
        right[row] /= matrix[row, row]


@njit(cache=True, nogil=True, error_model="numpy")
def _external(speed, torque, top):  # type: ignore[no-untyped-def]
    """Torque from outside at a speed, from a table of even steps from rest to ``top``."""
    at = min(max(speed / top * (len(torque) - 1), 0.0), len(torque) - 1.000001)
    k = int(at)
    return torque[k] + (torque[k + 1] - torque[k]) * (at - k)


@njit(cache=True, nogil=True, error_model="numpy")
def march(  # type: ignore[no-untyped-def]
    start, steps, omega, na, state, tables, walls, power, still, burning, gas, first, step_k, constant, links, area,
    inertia, torque, top, case_pressure, every, out, out_motion, sums, link_sums,
):  # fmt: skip
    """March ``steps`` steps of the grid; ``state`` and ``burning`` are changed in place. Returns the last speed.

    Parameters
    ----------
    inertia : array, shape (n_grid,)
        Of the crank by angle, with the pistons' share; empty where the speed is given and stays.
    torque, top
        From outside (starter less friction and load) over speed from rest to ``top`` rad/s.
    out : array, shape (n, volumes, 3)
        Pressure, temperature, mass at every ``every``-th step.
    out_motion : array, shape (n, 2)
        Time and speed there.
    sums : array, shape (volumes, 3)
        Work, heat to the walls, heat released; added to.
    link_sums : array, shape (links, 2)
        Mass and enthalpy passed; added to.
    """
    n_grid, nv, nl = tables.shape[1], len(state), len(links)
    now, then = np.zeros((nv, 13)), np.zeros((nv, 13))
    cells = np.full(na, 6)
    flows, flows2 = np.empty((nl, 3)), np.empty((nl, 3))
    passed, upstream = np.empty((nl, 3)), np.empty(nl)
    inner = np.empty((na, 3))
    right, matrix = np.zeros(nv), np.empty((na, na))
    for v in range(na, nv):
        p, t, x = still[v, 0], still[v, 1], state[v, 2]
        cell = int((t - first) / step_k)
        d = t - first - cell * step_k
        cv = (1.0 - x) * gas[cell, 0] + x * gas[cell, 1]
        slope = ((1.0 - x) * gas[cell + 1, 0] + x * gas[cell + 1, 1] - cv) / step_k
        u = (1.0 - x) * gas[cell, 2] + x * gas[cell, 3] + cv * d + 0.5 * slope * d * d
        r = (1.0 - x) * constant[0] + x * constant[1]
        now[v, _P], now[v, _T], now[v, _R], now[v, _CV], now[v, _X], now[v, _H] = p, t, r, cv + slope * d, x, u + r * t
        for c in range(13):
            then[v, c] = now[v, c]
    grid = 4.0 * math.pi / n_grid
    time, before = 0.0, omega
    for n in range(steps):
        i = (start + n) % n_grid
        mean = omega + 0.5 * (omega - before)
        dt = grid / mean
        gh = _GAMMA * dt
        for v in range(na):
            if walls[v, 4] >= 0.0 and (i + int(walls[v, 5])) % n_grid == int(walls[v, 4]):
                fresh = max(state[v, 0] - state[v, 2], 0.0)
                burning[v, 0], burning[v, 1] = walls[v, 2] * fresh, walls[v, 3] * fresh
        _rates(i, mean, na, state, tables, walls, power, burning, gas, first, step_k, constant, cells, now)
        _flows(i, links, area, now, flows)
        if n % every == 0:
            for v in range(nv):
                out[n // every, v, 0], out[n // every, v, 1] = now[v, _P], now[v, _T]
                out[n // every, v, 2] = state[v, 0]
            out_motion[n // every, 0], out_motion[n // every, 1] = time, omega
        for v in range(na):
            right[v] = now[v, _PU] * now[v, _DU]
        for k in range(nl):
            a, b, flow = links[k, 0], links[k, 1], flows[k, 0]
            upstream[k] = now[a, _H] if flow >= 0.0 else now[b, _H]
            if a < na:
                right[a] -= flow * (now[a, _PM] + now[a, _PU] * upstream[k])
            if b < na:
                right[b] += flow * (now[b, _PM] + now[b, _PU] * upstream[k])
        _set_matrix(na, gh, links, flows, now, upstream, matrix)
        _solve(matrix, right)
        for v in range(na):
            inner[v, 0] = state[v, 0]
            inner[v, 1] = state[v, 1] + dt * now[v, _DU]
            inner[v, 2] = state[v, 2] + dt * now[v, _DB]
        for k in range(nl):
            a, b = links[k, 0], links[k, 1]
            mass = flows[k, 0] + gh * (flows[k, 1] * right[a] + flows[k, 2] * right[b])
            up = a if mass >= 0.0 else b
            passed[k, 0], passed[k, 1], passed[k, 2] = mass, mass * now[up, _H], mass * now[up, _X]
            for c in range(3):
                if a < na:
                    inner[a, c] -= dt * passed[k, c]
                if b < na:
                    inner[b, c] += dt * passed[k, c]
        following = i + 1 if i + 1 < n_grid else 0
        _rates(following, mean, na, inner, tables, walls, power, burning, gas, first, step_k, constant, cells, then)
        _flows(following, links, area, then, flows2)
        for v in range(na):
            right[v] = now[v, _PU] * (then[v, _DU] - 2.0 * now[v, _DU])
        for k in range(nl):
            a, b, flow = links[k, 0], links[k, 1], flows2[k, 0]
            mass = flow - 2.0 * passed[k, 0]
            energy = flow * (then[a, _H] if flow >= 0.0 else then[b, _H]) - 2.0 * passed[k, 1]
            if a < na:
                right[a] -= now[a, _PM] * mass + now[a, _PU] * energy
            if b < na:
                right[b] += now[b, _PM] * mass + now[b, _PU] * energy
        _solve(matrix, right)
        gained = 0.0
        for v in range(na):
            state[v, 1] += 0.5 * dt * (now[v, _DU] + then[v, _DU])
            state[v, 2] += 0.5 * dt * (now[v, _DB] + then[v, _DB])
            work = 0.5 * dt * (now[v, _WORK] + then[v, _WORK])
            sums[v, 0] += work
            sums[v, 1] += 0.5 * dt * (now[v, _LOST] + then[v, _LOST])
            sums[v, 2] += 0.5 * dt * (now[v, _FREED] + then[v, _FREED])
            j = (i + int(walls[v, 5])) % n_grid
            swept = tables[v, j, 1] + tables[v, (j + 1) % n_grid, 1]
            gained += work - case_pressure * 0.5 * grid * swept
        for k in range(nl):
            a, b = links[k, 0], links[k, 1]
            more = gh * (flows[k, 1] * right[a] + flows[k, 2] * right[b])
            # 3/2 of the first stage and 1/2 of the second; what passes carries the heat of where it came from.
            mass = 0.5 * dt * (passed[k, 0] + flows2[k, 0] + more)
            up = a if mass >= 0.0 else b
            energy, spent = mass * 0.5 * (now[up, _H] + then[up, _H]), mass * 0.5 * (now[up, _X] + then[up, _X])
            link_sums[k, 0] += mass
            link_sums[k, 1] += energy
            if a < na:
                state[a, 0] -= mass
                state[a, 1] -= energy
                state[a, 2] -= spent
            if b < na:
                state[b, 0] += mass
                state[b, 1] += energy
                state[b, 2] += spent
        time += dt
        before = omega
        if len(inertia):
            energy = 0.5 * inertia[i] * omega * omega + gained + _external(mean, torque, top) * grid
            omega = math.sqrt(max(2.0 * energy / inertia[following], 1e-6))
    return omega
