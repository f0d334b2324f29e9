"""Hypotheses of the reference on one vehicle, weighed along straight lines: single faults, sleepers, nothing, pairs."""

from __future__ import annotations

import numpy as np

from benchmarks.vehicles.frame import Frame
from benchmarks.vehicles.generate import Key, fault_weights
from benchmarks.vehicles.law import sleeps, type_odds
from benchmarks.vehicles.pairs import pairs_of
from benchmarks.vehicles.shown import Open, Shown, Weighed, alone, told

__all__ = ["hypotheses"]

_INERT = 0.05  # nats by which a fault's likeliest cell differs from sound, below which it shows in nothing taken


def hypotheses(frame: Frame) -> Weighed:
    """Everything with mass, along straight lines.

    Parameters
    ----------
    frame : Frame
    """
    bank, vehicle = frame.bank, frame.vehicle
    lines, rest = frame.log_net()
    net = lines + rest
    weights = fault_weights(bank.variant, vehicle.history, frame.law)
    odds = type_odds(float(weights.sum()), frame.law)
    share = weights / weights.sum()
    off = np.array([sleeps(one.row, frame.law) for one in bank.variant.instances])
    shows = np.array([np.abs(net[one.rows] - net[0]).max() > _INERT for one in bank.nets[: len(share)]])
    log_variant = float(np.log(bank.variant.odds))
    here, gone = (float(np.exp(told(vehicle, awake))) for awake in (True, False))
    sound = Shown(frame, (), np.zeros((1, 0), dtype=np.intp), np.zeros(1), lines[:1], rest[:1])
    hidden = float(share[~shows].sum())
    hidden_off = float(share[~shows] @ off[~shows]) / hidden if hidden else 0.0
    # A second fault that shows in nothing taken: it may still be what is complained of.
    second = 2.0 * odds["pair"] * hidden / odds["single"]
    found = []

    def add(key: Key, weight: float, shown: Shown) -> None:
        if weight > 0.0:
            found.append(Open(key, log_variant + float(np.log(weight)), shown))

    add("nothing_wrong", odds["nothing_wrong"] * gone, sound)
    unseen = odds["single"] * share[~shows] @ ((1.0 - off[~shows]) * here + off[~shows] * gone)
    unseen += odds["pair"] * hidden**2 * ((1.0 - hidden_off**2) * here + hidden_off**2 * gone)
    add("elsewhere", odds["elsewhere"] * here + float(unseen), sound)
    for i in np.flatnonzero(shows & (share > 0.0)):
        key: Key = (bank.instances[i].key,)
        own = odds["single"] * float(share[i])
        add(key, own * (1.0 - off[i]) * here * (1.0 + second), alone(frame, lines, rest, int(i)))
        beside = gone + second * ((1.0 - hidden_off) * here + hidden_off * gone)
        add(key, own * off[i] * beside, sound)
    for i in range(len(share), len(bank.instances)):
        add("none_of_these", odds["outside"] * bank.instances[i].share * here, alone(frame, lines, rest, i))
    if odds["pair"] > 0.0:
        found += pairs_of(frame, (lines, rest), share * shows, sound, log_variant + float(np.log(odds["pair"])))
    unseen_keys = frozenset(one.key for one, there in zip(bank.variant.instances, shows, strict=True) if not there)
    return Weighed(found, unseen_keys)
