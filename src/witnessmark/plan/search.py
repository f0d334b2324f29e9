"""The next action by looking two, three and more actions ahead, as far as the time goes."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from witnessmark.plan.bounds import KnownCause
from witnessmark.plan.decision import ESCALATE, Decision, Valued, ranked
from witnessmark.plan.exact import exact_plan, situations_of
from witnessmark.plan.graph import Graph
from witnessmark.plan.problem import DecisionProblem
from witnessmark.plan.tables import tables_of
from witnessmark.plan.thin import thin

__all__ = ["look_ahead", "next_action", "price_instead"]

_KEEP = 60
_STEPS = 6
_SMALL = 100_000
# Numbers that one round of opening makes, about: small enough that the clock is asked often.
_ROUND = 60_000
_AT_ONCE = 8  # such rounds in one, where a whole step is to be looked at anyway
# Share of the room between a situation's two prices that a look there is hoped to take away, at first: detours dearer
# than that wait. Only the order of work hangs on it.
_HOPE = 0.12
# Actions ahead that are looked at in whole before anything deeper is: of two first actions one looked at further than
# the other would seem the cheaper, and which one that is would hang on the order of work.
_WHOLE = 2
# Share by which a further test has to be better than repairing or ending at once, to be named as what comes next.
_PLAINLY = 0.01


def next_action(
    problem: DecisionProblem,
    *,
    seconds: float = 0.08,
    situations: int | None = None,
    small: int = _SMALL,
    whole: int = _WHOLE,
    clock: Callable[[], float] = time.perf_counter,
) -> Decision:
    """The next action by least expected price to a proven fix.

    Parameters
    ----------
    problem : DecisionProblem
    seconds : float [s]
        Time to think, about; a first look one step ahead is always finished.
    situations : int, optional
        Situations after which it goes no deeper, whatever the time: the same problem then has the same plan on every
        machine. What ``whole`` asks for is finished first.
    small : int
        Problems with no more situations than this are planned exactly; 0: never.
    whole : int
        Steps ahead that are looked at in whole before anything deeper is.
    clock : callable
        Gives seconds.

    Returns
    -------
    Decision
    """
    if problem.asking is None and situations_of(problem) <= small:
        return _exactly(problem, clock)
    return look_ahead(problem, seconds=seconds, situations=situations, whole=whole, clock=clock)


def _exactly(problem: DecisionProblem, clock: Callable[[], float]) -> Decision:
    started = clock()
    plan = exact_plan(problem)
    names = (*plan.tables.names, ESCALATE)
    values = [Valued(n, float(p), float(p)) for n, p in zip(names, plan.first, strict=True) if np.isfinite(p)]
    known = float(KnownCause.of(plan.tables).price(plan.tables.start())[0])
    depth = len(plan.tables.names)
    return Decision(
        action=plan.action,
        price=plan.expected,
        values=ranked(values),
        cannot_beat=plan.expected,
        known_cause=known,
        steps=depth,
        deepest=depth,
        left_out=0.0,
        merged=0.0,
        situations=len(plan.price),
        seconds=clock() - started,
        exact=True,
    )


def look_ahead(
    problem: DecisionProblem,
    *,
    seconds: float = 0.08,
    situations: int | None = None,
    steps: int = _STEPS,
    keep: int = _KEEP,
    whole: int = _WHOLE,
    clock: Callable[[], float] = time.perf_counter,
) -> Decision:
    """The next action by opening situations, the most promising of the nearest first, until the time is up.

    The first two steps are looked at in whole, so that first actions are compared by looks of one length.

    Parameters
    ----------
    problem : DecisionProblem
    seconds : float [s]
    situations : int, optional
        As for :func:`next_action`.
    steps : int
        Actions ahead at most; what lies behind is priced by repairs in order.
    keep : int
        Hypotheses told apart; those beyond are taken as one, and of many repairs only the likeliest are looked at.
    whole : int
        As for :func:`next_action`.
    clock : callable
        Gives seconds.

    Returns
    -------
    Decision
    """
    started = clock()
    every = tables_of(problem)
    known = float(KnownCause.of(every).price(every.start())[0])
    tables, merged = thin(every, keep)
    graph = Graph(tables, problem.asking)
    size = max(4, _ROUND // (1 + len(graph.tables.owner) * len(graph.tables.chance)))
    # First actions are all tried, whatever is known already: each is somebody's own choice.
    graph.open(np.array([graph.root]))
    graph.back_up()
    now, round_took, hope, behind = clock(), 0.0, _HOPE, whole < _WHOLE or steps <= _WHOLE
    while True:
        rows, room, detour = graph.waiting(steps)
        near = graph.depth[rows] < whole
        if len(rows) and not near.any() and not behind:
            behind = True
            _look_behind_the_repair(graph, size)
            continue
        # A round that would end too late is not begun.
        enough = len(graph) > (situations or np.inf) and not near.any()
        if not len(rows) or now + round_took - started > seconds or enough:
            break
        while not near.any() and not (hope * room >= detour).any():
            hope *= 2.0
        hopeful = near | (hope * room >= detour)
        _open_some(graph, rows[hopeful], (hope * room - detour)[hopeful], _AT_ONCE * size if near.any() else size)
        now, round_took = clock(), clock() - now
    ahead = int(graph.depth[rows].min()) if len(rows) else steps
    # Where hypotheses were taken together the graph's own bound is that of another problem.
    most = known if merged else np.inf
    action, values = _values(graph, most)
    price, lower = float(graph.upper[graph.root]), min(float(graph.lower[graph.root]), most)
    return Decision(
        action=action,
        price=price,
        values=values,
        cannot_beat=lower,
        known_cause=known,
        steps=ahead,
        deepest=int(graph.depth[graph.owner].max(initial=-1)) + 1,
        left_out=price - graph.optimistic(max(2, ahead)),
        merged=merged,
        situations=len(graph) - 1,
        seconds=clock() - started,
        exact=not merged and price - lower <= 1e-9 * price,
        then=_then(graph),
    )


def price_instead(
    problem: DecisionProblem,
    action: str,
    *,
    seconds: float = 0.08,
    situations: int | None = None,
    clock: Callable[[], float] = time.perf_counter,
) -> Valued:
    """The technician's own choice, priced with a look of its own behind each outcome.

    Parameters
    ----------
    problem : DecisionProblem
    action : str
        To be done first, whether or not it lies inside what was agreed.
    seconds : float [s]
        Time for all outcomes together, about.
    situations : int, optional
        Situations of all outcomes together, as for :func:`next_action`.
    clock : callable
        Gives seconds.

    Returns
    -------
    Valued

    Raises
    ------
    InputError
        If the problem has no such action.
    """
    if action == ESCALATE:
        stop = float(problem.chance @ problem.escalation) if problem.asking is None else problem.asking.now
        return Valued(ESCALATE, stop, stop)
    chosen = problem.action(action)
    price = lower = problem.rates.price(problem.cost_now(chosen))
    chances = chosen.table @ problem.chance
    for outcome, chance in enumerate(chances):
        if chance > 0.0:
            most = None if situations is None else int(situations * float(chance)) + 1
            after = problem.after(action, outcome)
            # One step behind a choice made: a look as long as that of the other first actions.
            plan = next_action(after, seconds=seconds * float(chance), situations=most, whole=_WHOLE - 1, clock=clock)
            price += float(chance) * plan.price
            lower += float(chance) * plan.cannot_beat
    return Valued(action, price, lower)


def _open_some(graph: Graph, rows: NDArray[np.intp], promise: NDArray[np.float64], size: int) -> None:
    """Those of the nearest depth, the most promising first."""
    nearest = graph.depth[rows] == graph.depth[rows].min()
    rows, promise = rows[nearest], promise[nearest]
    graph.open(rows[np.argsort(-promise, kind="stable")[:size]])
    graph.back_up()


def _look_behind_the_repair(graph: Graph, size: int) -> None:
    """Open what may follow the best repair one step further: with as many tests in the look as behind a first test.

    A repair tells nothing but whether it cured, so a look of two steps has one test in it where a test's own has two.
    """
    t = graph.tables
    if not len(t.repairs):
        return
    first = graph.opened[[graph.root]]
    upper, _ = graph.through(first)
    best = int(t.repairs[np.argmin(upper[0][t.repairs])])
    not_cured = graph.child[first[0]][t.owner == best]
    edges = graph.opened[not_cured[not_cured > 0]]
    rows = np.unique(graph.child[edges[edges >= 0]])
    rows = rows[(rows > 0) & (graph.opened[rows] < 0)]
    for start in range(0, len(rows), _AT_ONCE * size):
        graph.open(rows[start : start + _AT_ONCE * size])
    graph.back_up()


def _values(graph: Graph, most: float) -> tuple[str, tuple[Valued, ...]]:
    stop = float(graph.end(graph.at.take(np.array([graph.root])))[0])
    stop = stop if graph.asking is None else min(stop, graph.asking.now)
    upper, lower = graph.through(graph.opened[[graph.root]])
    values = [
        Valued(name, float(u), min(float(v), most))
        for name, u, v in zip(graph.tables.names, upper[0], lower[0], strict=True)
        if np.isfinite(u)
    ]
    order = ranked([*values, Valued(ESCALATE, stop, stop)])
    return order[0].action, order


def _then(graph: Graph) -> dict[str, tuple[str, ...]]:
    """The best action behind each outcome of each first action, where that was opened."""
    t = graph.tables
    names = np.array([*t.names, ESCALATE, ""], dtype=object)
    child = graph.child[graph.opened[graph.root]]
    best = np.full(len(child), len(names) - 1)
    seen = np.flatnonzero((graph.opened[child] >= 0) & (child > 0))
    if len(seen):
        rows = child[seen]
        at = graph.at.take(rows)
        upper, _ = graph.through(graph.opened[rows])
        end, in_order = graph.end(at), graph.order.price(at)
        best[seen] = np.argmin(upper, axis=1)
        # Repairs in order, or the end, unless another test is plainly worth more: both were priced less closely.
        at_once = np.minimum(end, in_order) <= (1.0 + _PLAINLY) * upper.min(axis=1, initial=np.inf)
        handed_on = np.full(len(rows), len(names) - 2)
        best[seen] = np.where(at_once, np.where(end <= in_order, handed_on, _first_repair(graph, rows)), best[seen])
    return {name: tuple(str(n) for n in names[best[t.owner == k]]) for k, name in enumerate(t.names)}


def _first_repair(graph: Graph, rows: NDArray[np.intp]) -> NDArray[np.intp]:
    """The repair that cures most for its price."""
    t, at = graph.tables, graph.at.take(rows)
    gain = np.where(t.may(at.done, at.off), at.mass @ t.cures.T, 0.0)
    return np.asarray(np.argmax(gain / t.cost(at.off), axis=1), dtype=np.intp)
