"""The most likely reading of an edge train, compiled: which edge is which tooth, which is extra, what is missing.

A hidden Markov model walked by Viterbi's algorithm: an edge is a tooth, an extra edge, or loose (part of a stretch
that follows no wheel). Every survivor carries its own two-state Kalman filter: the logarithm of the pace (seconds per
degree), and how late its last edge came against its place. Importing this module takes seconds the first time, so
:mod:`witnessmark.decode.wheel` does it only when the first wheel is locked.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

# How far back the tooth before may lie: so many extra edges between, so many teeth missing between.
MAX_EXTRA = 3
MAX_MISSING = 3
# Labels of edges that are no tooth.
EXTRA = -1
LOOSE = -2

_STEPS = MAX_MISSING + 1
_FROM_LOOSE, _START = 0, 255  # marks in the table of predecessors; all else is 1 + skipped * _STEPS + missing
_BEAM = 25.0  # nats behind the best reading at which one is given up
_ENTRY_BEAM = 16.0  # and at which the wheel is not taken up anew
_NU = 5.0  # degrees of freedom of the heavy-tailed law of an interval
_T_CONST = math.lgamma((_NU + 1) / 2) - math.lgamma(_NU / 2) - 0.5 * math.log(_NU * math.pi)
_LOG_RANGE = math.log(15.0)  # extra edges: spread evenly in the logarithm of the distance over about seven decades
_RAD = math.pi / 180.0
_FRESH = 0.5  # variance of the log pace above which nothing is known of it yet
_OUTLIER_Z2, _AFTER_OUTLIER = 6.0, 0.25
_BENT_Z2, _C_BENT = 12.0, 4.0
_C_SUSPECT = 7.0  # cost of reading a pulse too narrow for a tooth as one
_WIDTH_SD = 0.08  # doubt of a code width, as a share of its gap
_WIDTH_PEAK = 0.9 / (_WIDTH_SD * math.sqrt(2 * math.pi))
# Columns of the survivors' table.
_COST, _PACE, _LATE, _VAR_U, _COV, _VAR_E, _WANDER = range(7)
# Of a step from tooth to tooth: see :func:`_steps`.
_LOG, _PER, _ROOM = range(3)
# Places in the array of laws.
ACCEL, REACH, FLOOR, RATIO, U_START, SD_START, U_MIN, U_MAX, C_EXTRA, C_MISSING, C_LEAVE, C_RETURN, DISPLACED = range(
    13
)


@njit(cache=True, nogil=True, error_model="numpy")
def align(
    times: NDArray[np.float64],
    deltas: NDArray[np.float64],
    jitter: NDArray[np.float64],
    noise: NDArray[np.float64],
    loose_price: NDArray[np.float64],
    suspect: NDArray[np.bool_],
    fractions: NDArray[np.float64],
    expected: NDArray[np.float64],
    law: NDArray[np.float64],
) -> Any:
    """Label every edge.

    Parameters
    ----------
    times : array, shape (n,) [s]
        Edges of one kind, strictly increasing, n >= 1.
    deltas : array, shape (n_states, MAX_MISSING + 1) [deg]
        Angle from tooth s to the tooth 1 + m places on.
    jitter : array, shape (n_states,) [deg]
        Standard deviation of the place of each tooth.
    noise : array, shape (n,) [s]
        Standard deviation of each edge's time.
    loose_price : array, shape (n,) [nats]
        Cost of each edge where it follows no wheel.
    suspect : array of bool, shape (n,)
        Edges of pulses too narrow to be a tooth.
    fractions : array, shape (n,)
        Where between the edge before and this one the other edge lies, 0..1; NaN where not exactly one does.
    expected : array, shape (n_states,)
        The same for the gap behind tooth s as the pattern has it; NaN where it says nothing.
    law : array, shape (13,)
        In the order of the constants above: acceleration [rad/s2], its reach [rad], least relative acceleration
        [1/rad], crank degrees per wheel degree, log pace at a start and its standard deviation, least and largest
        log pace [log s/deg], costs [nats] of an extra edge, a missing tooth, leaving the wheel, coming back;
        standard deviation [deg] of the place of a bent tooth.

    Returns
    -------
    labels : array of int, shape (n,)
        Tooth number, EXTRA or LOOSE.
    gone : array of int, shape (n,)
        Teeth missing just before an edge that is a tooth.
    starts : array of bool, shape (n,)
        Edges at which the wheel is taken up anew.
    evidence : float [nats]
        Log-likelihood above that of no wheel at all.
    """
    n, n_states = times.size, deltas.shape[0]
    depth = MAX_EXTRA + 2  # rows kept: this edge and all that a tooth may follow
    table = np.zeros((depth, n_states, 7))
    alive = np.zeros((depth, n_states), dtype=np.int32)
    n_alive = np.zeros(depth, dtype=np.int32)
    back = np.full((n, n_states), _START, dtype=np.uint8)
    back_loose = np.full(n, -1, dtype=np.int16)
    loose = np.zeros(n)
    extra = _extra_costs(times, suspect, law[C_EXTRA])
    steps = _steps(deltas, law)
    for k in range(n):
        row = k % depth
        for s in range(n_states):  # one by one: assigning a slice compiles seconds longer
            table[row, s, _COST] = np.inf
        best = np.inf
        junk = loose_price[k]
        for skipped in range(min(MAX_EXTRA + 1, k)):
            j = k - 1 - skipped
            old = j % depth
            if n_alive[old] == 0:
                continue
            d = times[k] - times[j]
            log_d = math.log(d)
            between = extra[k] - extra[j + 1] + log_d + (_C_SUSPECT if suspect[k] else 0.0)
            fraction = fractions[k] if skipped == 0 else np.nan
            # A first interval costs a little less than a loose one, or starting later would always be cheaper.
            first_price = junk - math.log(times[k] - times[k - 1]) - 0.7
            for a in range(n_alive[old]):
                s = alive[old, a]
                if table[old, s, _COST] + between > best + _BEAM:
                    continue
                for m in range(_STEPS - skipped):  # much missing and much extra at once tells nothing
                    u_obs = log_d - steps[s, m, _LOG]
                    if u_obs < law[U_MIN] or u_obs > law[U_MAX]:
                        continue
                    to = (s + 1 + m) % n_states
                    price = table[old, s, _COST] + between + m * law[C_MISSING]
                    if m == 0 and not (math.isnan(fraction) or math.isnan(expected[s])):
                        f = (fraction - expected[s]) / _WIDTH_SD
                        price -= math.log(0.1 + _WIDTH_PEAK * math.exp(-0.5 * f * f))
                    sd_deg = noise[k] * deltas[s, m] / d
                    fresh = jitter[to] * jitter[to] + sd_deg * sd_deg
                    price = _advance(
                        table,
                        old,
                        s,
                        row,
                        to,
                        price,
                        u_obs,
                        steps[s, m, _PER],
                        steps[s, m, _ROOM],
                        fresh,
                        first_price,
                        law,
                    )
                    if price < np.inf:
                        back[k, to] = 1 + skipped * _STEPS + m
                        best = min(best, price)
        entry = math.log(n_states) + law[C_RETURN] + junk + (loose[k - 1] if k > 0 else 0.0)
        entry += _C_SUSPECT if suspect[k] else 0.0
        if entry < best + _ENTRY_BEAM:
            best = min(best, entry)
            _enter(table[row], back[k], entry, _FROM_LOOSE if k > 0 else _START, jitter, noise[k], law)
        if k > 0:
            old = (k - 1) % depth
            loose[k], back_loose[k] = _let_go(table[old], alive[old], n_alive[old], loose[k - 1], law[C_LEAVE], junk)
        n_alive[row] = _survivors(table[row], alive[row], best + _BEAM)
        for a in range(n_alive[row]):
            s = alive[row, a]
            table[row, s, _WANDER] = _wander(table[row, s, _PACE], law)
    return _trace_back(table, loose, extra, back, back_loose, loose_price)


@njit(cache=True, nogil=True)
def _steps(deltas: NDArray[np.float64], law: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of every step from tooth to tooth: logarithm of the angle, one over it, how far a torque bears within it."""
    out = np.zeros((*deltas.shape, 3))
    for s in range(deltas.shape[0]):
        for m in range(deltas.shape[1]):
            turn = _RAD * law[RATIO] * deltas[s, m]
            out[s, m, _LOG], out[s, m, _PER] = math.log(deltas[s, m]), 1.0 / deltas[s, m]
            out[s, m, _ROOM] = turn * turn / (1.0 + turn / law[REACH])
    return out


@njit(cache=True, nogil=True, inline="always")
def _wander(u: float, law: NDArray[np.float64]) -> float:
    """By how much the log pace may wander per radian, squared: torque over inertia, so more the slower it turns."""
    omega = _RAD * law[RATIO] * math.exp(-u)
    relative = law[ACCEL] / (omega * omega)
    return float(relative * relative + law[FLOOR] * law[FLOOR])


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _advance(
    table: NDArray[np.float64],
    old: int,
    s: int,
    row: int,
    to: int,
    base: float,
    u_obs: float,
    per: float,
    room: float,
    fresh: float,
    first_price: float,
    law: NDArray[np.float64],
) -> float:
    """Price of reading an edge as tooth ``to`` after ``s``; taken into the table if the cheapest yet, else infinite.

    ``per`` and ``room`` belong to the step (:func:`_steps`); ``fresh`` is the variance of the edge's place [deg2].
    """
    v_u = table[old, s, _VAR_U] + min(table[old, s, _WANDER] * room, 1.0)
    y = u_obs - table[old, s, _PACE] + table[old, s, _LATE] * per
    h_u = v_u - table[old, s, _COV] * per
    spread = h_u - (table[old, s, _COV] - table[old, s, _VAR_E] * per) * per + fresh * per * per
    z2 = y * y / spread
    fresh_start = table[old, s, _VAR_U] > _FRESH
    if fresh_start:
        # Nothing is known of the pace yet, so that the interval may be any.
        price = base + first_price
    else:
        price = base + _surprise(z2, spread)
        if z2 > _BENT_Z2:
            # A tooth far from its place may be bent: dearer, but it leaves the pace alone.
            more = law[DISPLACED] * law[DISPLACED]
            wider = spread + more * per * per
            bent = base + _C_BENT + _surprise(y * y / wider, wider)
            if bent < price:
                price, fresh, spread, z2 = bent, fresh + more, wider, y * y / wider
    if price >= table[row, to, _COST]:
        return np.inf
    # An outlier moves the filter as if its spread had been larger.
    wide = spread if fresh_start else spread * max(1.0, (_NU + z2) / (_NU + 1))
    k_u, k_e = h_u / wide, fresh * per / wide
    table[row, to, _COST] = price
    table[row, to, _PACE] = min(max(table[old, s, _PACE] + k_u * y, law[U_MIN]), law[U_MAX])
    table[row, to, _LATE] = k_e * y
    # … and leaves the pace in doubt: it may have been a firing stroke.
    table[row, to, _VAR_U] = max(v_u - k_u * h_u, _AFTER_OUTLIER * y * y if z2 > _OUTLIER_Z2 else 1e-12)
    table[row, to, _VAR_E] = max(fresh - k_e * fresh * per, 1e-12)
    table[row, to, _COV] = -k_u * fresh * per
    return price


@njit(cache=True, nogil=True, inline="always")
def _surprise(z2: float, variance: float) -> float:
    """Minus the logarithm of Student's density at a squared deviation."""
    tail = 1.0 + z2 / _NU
    cubed = tail * tail * tail
    # One logarithm, not two: this runs more often than all else. The power is degrees of freedom and one more.
    return float(0.5 * math.log(variance * cubed * cubed) - _T_CONST)


@njit(cache=True, nogil=True)
def _extra_costs(times: NDArray[np.float64], suspect: NDArray[np.bool_], price: float) -> NDArray[np.float64]:
    """Running cost of edges if all were extra: near another edge they are likelier."""
    n = times.size
    total = np.zeros(n + 1)
    for k in range(n):
        before = times[k] - times[k - 1] if k > 0 else np.inf
        after = times[k + 1] - times[k] if k + 1 < n else np.inf
        near = min(before, after)
        own = 0.0 if suspect[k] else price
        total[k + 1] = total[k] + own + _LOG_RANGE + (math.log(near) if near < np.inf else 0.0)
    return total


@njit(cache=True, nogil=True)
def _enter(
    row: NDArray[np.float64],
    back: NDArray[np.uint8],
    entry: float,
    mark: int,
    jitter: NDArray[np.float64],
    noise: float,
    law: NDArray[np.float64],
) -> None:
    """The wheel taken up anew at this edge, at any tooth alike."""
    sd_t = noise * math.exp(-law[U_START])
    for s in range(row.shape[0]):
        if entry < row[s, _COST]:
            row[s, _COST], row[s, _PACE], row[s, _LATE], row[s, _COV] = entry, law[U_START], 0.0, 0.0
            row[s, _VAR_U] = law[SD_START] * law[SD_START]
            row[s, _VAR_E] = jitter[s] * jitter[s] + sd_t * sd_t
            back[s] = mark


@njit(cache=True, nogil=True)
def _let_go(
    row: NDArray[np.float64], alive: NDArray[np.int32], n_alive: int, loose: float, price: float, junk: float
) -> tuple[float, int]:
    """Cheapest way for an edge to be loose, and the tooth before it if it comes from one."""
    cheapest, came = loose, -1
    for a in range(n_alive):
        if row[alive[a], _COST] + price < cheapest:
            cheapest, came = row[alive[a], _COST] + price, alive[a]
    return cheapest + junk, came


@njit(cache=True, nogil=True)
def _survivors(row: NDArray[np.float64], alive: NDArray[np.int32], limit: float) -> int:
    count = 0
    for s in range(row.shape[0]):
        if row[s, _COST] <= limit:
            alive[count] = s
            count += 1
    return count


@njit(cache=True, nogil=True)
def _trace_back(
    table: NDArray[np.float64],
    loose: NDArray[np.float64],
    extra: NDArray[np.float64],
    back: NDArray[np.uint8],
    back_loose: NDArray[np.int16],
    loose_price: NDArray[np.float64],
) -> Any:
    n, n_states = back.shape
    labels = np.full(n, EXTRA, dtype=np.int16)
    gone = np.zeros(n, dtype=np.int8)
    starts = np.zeros(n, dtype=np.bool_)
    best, k, s = loose[n - 1], n - 1, -1
    for j in range(max(n - 1 - MAX_EXTRA, 0), n):
        for state in range(n_states):
            total = table[j % table.shape[0], state, _COST] + extra[n] - extra[j + 1]
            if total < best:
                best, k, s = total, j, state
    nothing = loose_price.sum()
    while k >= 0:
        if s < 0:
            labels[k] = LOOSE
            s = back_loose[k]
            k -= 1
            continue
        labels[k] = s
        code = back[k, s]
        if code in (_START, _FROM_LOOSE):
            starts[k] = True
            s = -1
            k -= 1
            continue
        skipped, m = (code - 1) // _STEPS, (code - 1) % _STEPS
        gone[k] = m
        s = (s - 1 - m) % n_states
        k -= 1 + skipped
    return labels, gone, starts, nothing - best
