"""How a cam moves: between two states or moments of one recording, and between two recordings of one engine.

The same edge is read between the same teeth both times, so that errors of their places cancel as far as the cam has
not moved on to other teeth. + = the cam's edges come earlier in the second.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from witnessmark.decode.anglemap import AngleMap, TurnSpeeds, angle_map
from witnessmark.decode.cam import RepeatingEdge
from witnessmark.decode.pitch import PitchError
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.measure.averaging import during, mean_speed_deg_s, sd_of_mean
from witnessmark.measure.baseline import shifted_deg
from witnessmark.measure.cams import NO_INDEX, CamSeen, place_of, steady, zero_wander_deg
from witnessmark.measure.camwheel import Described
from witnessmark.measure.footing import footing_of, place_sd_deg
from witnessmark.measure.matching import match_cams
from witnessmark.measure.measurement import Measurement
from witnessmark.measure.runout import RunOut, corrected_edge, same_run_out
from witnessmark.measure.speed import state_runs
from witnessmark.vocabulary import Condition

__all__ = ["change_between", "changes_within", "phase_changes"]

Span = tuple[float, float]
Pair = tuple[RepeatingEdge, RepeatingEdge]
Edges = list[RepeatingEdge]

_LEAST_CYCLES = 4
# The speed must differ by this share for its effect to be looked for.
_SPEED_DIFFERS = 0.2
# Swing of a cam under its springs changes with speed: what it leaves in a change per edge [deg], from memory, once the
# speeds differ by this share or more.
_SWING_SD_DEG, _SWING_SPEED = 0.05, 0.2
# A zero that creeps one way moves from part to part, and from recording to recording, by so many times what it does
# about its mean.
_ZERO_MOVES = 1.3
# Mean square by which the learnt places of two recordings differ, over their doubt, from which on the wheel is another.
_ANOTHER_WHEEL = 2.0


def change_between(before: Measurement, after: Measurement) -> tuple[list[Finding], list[NotMeasured]]:
    """How far each cam has moved from one recording of an engine to another.

    Parameters
    ----------
    before, after : Measurement
        Of the same engine and wheel, read on the same kind of edge.

    Returns
    -------
    tuple of (findings, not measured)
        Quantity ``cam_phase_change`` [deg], + = earlier in ``after``, for every cam of ``after`` that ``before`` shows
        as well. Its condition and source are those of ``after``.
    """
    source = Provenance("recording", after.digest)
    condition = _condition_of(after)
    wanted = [seen for seen in after.cams if seen.edges]
    why = _not_comparable(before, after)
    if why is not None:
        settled = "both recordings taken from the same sensors, of ten cycles or more at a steady speed"
        return [], [NotMeasured("cam_phase_change", place_of(seen), why, settled) for seen in wanted]
    pairs = [(first, second) for second in wanted if (first := _same_cam(before.cams, second)) is not None]
    if not all(seen.zero_known for pair in pairs for seen in pair):
        settled = "the crank wheel looked at, and its missing tooth"
        return [], [NotMeasured("cam_phase_change", place_of(seen), NO_INDEX, settled) for seen in wanted]
    on_same = [
        _steady_in_both(old, new, coil=second.coil)
        for (_, second), (old, new) in zip(pairs, _on_same_teeth(pairs), strict=True)
    ]
    matched = match_cams(
        [new for _, new in on_same],
        [_as_described(first, old) for (first, _), (old, _) in zip(pairs, on_same, strict=True)],
        pairs[0][1].amap.sector_deg if pairs else 360.0,
    )
    found, left = [], []
    for (first, second), (old, new), fit in zip(pairs, on_same, matched, strict=True):
        if isinstance(fit, str):
            why = "The cam's edges of the two recordings do not look alike"
            settled = "the same sensor recorded the same way round, before and after"
            left.append(NotMeasured("cam_phase_change", place_of(second), why, settled))
            continue
        both = [(old[j], new[k]) for j, k in zip(fit.described, fit.measured, strict=True)]
        value, sd = -float(np.mean(fit.late_deg)), _sd(both, first, second, float(np.std(fit.late_deg)))
        method = f"from {before.name} to {after.name}, {len(both)} edges, on the same teeth"
        told = ("the same crank wheel in both",)
        found.append(
            Finding(
                "cam_phase_change",
                place_of(second),
                value,
                sd,
                condition,
                replace(source, trace=second.name),
                method,
                told,
            )
        )
    seen_before = {id(second) for _, second in pairs}
    for seen in wanted:
        if id(seen) not in seen_before:
            why = "The recording before does not show this cam"
            left.append(NotMeasured("cam_phase_change", place_of(seen), why, "the cam recorded both times"))
    return found, left


def phase_changes(before: Measurement, after: Measurement) -> list[Finding]:
    """The findings of :func:`change_between` alone.

    Parameters
    ----------
    before, after : Measurement

    Returns
    -------
    list of Finding
    """
    return change_between(before, after)[0]


def _steady_in_both(old: Edges, new: Edges, *, coil: bool) -> tuple[Edges, Edges]:
    """Edges of the kinds that stand at teeth in both recordings; all where the two do not agree on any."""
    kept = steady(old, coil=coil), steady(new, coil=coil)
    kinds = {edge.rising for edge in kept[0]} & {edge.rising for edge in kept[1]}
    if not kinds:
        return old, new
    return [e for e in kept[0] if e.rising in kinds], [e for e in kept[1] if e.rising in kinds]


def _condition_of(measured: Measurement) -> Condition:
    own = [f.condition for f in measured.findings if f.quantity in ("cam_edge_angle", "wheel_teeth_seen")]
    return own[0] if own else Condition()


def _not_comparable(before: Measurement, after: Measurement) -> str | None:
    one, other = before.roles, after.roles
    if one is None or other is None or one.guess is None or other.guess is None:
        return "The crank wheel could not be read in both recordings"
    if one.guess.rising != other.guess.rising:
        return "The crank wheel was read on rising edges in one recording and on falling ones in the other"
    if not np.allclose(_places(one.guess.pattern.edges_deg), _places(other.guess.pattern.edges_deg), atol=0.5):
        return "The two recordings show different crank wheels"
    return None


def _places(edges_deg: Sequence[float]) -> np.ndarray:
    padded = np.full(512, -1.0)
    padded[: len(edges_deg)] = edges_deg
    return padded


def _same_cam(cams: Sequence[CamSeen], wanted: CamSeen) -> CamSeen | None:
    """The same cam in the other recording: by its id, else by its channel's name."""
    for seen in cams:
        if seen.edges and (seen.cam == wanted.cam if wanted.cam is not None else seen.name == wanted.name):
            return seen
    return None


def _on_same_teeth(pairs: Sequence[tuple[CamSeen, CamSeen]]) -> list[tuple[list[RepeatingEdge], list[RepeatingEdge]]]:
    """Edges of both recordings on maps with the same places of the teeth and the same run-out.

    Places are those of the recording that learnt them over more turns, run-out of the one that knows it better. Where
    the two differ by more than they may, the wheel was changed or refitted between, and each keeps its own.
    """
    if not pairs:
        return []
    first, second = pairs[0]
    pitches, run_outs = [first.amap.pitch, second.amap.pitch], [first.run_out, second.run_out]
    if _same_places(first.amap, second.amap):
        pitches = [max(pitches, key=lambda pitch: pitch.n_turns)] * 2
    if same_run_out(*run_outs):
        run_outs = [min(run_outs, key=lambda known: known.sd_deg)] * 2
    return [(_on(one, pitches[0], run_outs[0]), _on(other, pitches[1], run_outs[1])) for one, other in pairs]


def _same_places(one: AngleMap, other: AngleMap) -> bool:
    """Whether the teeth learnt in two recordings may be the same ones."""
    if not (one.pitch.is_learnt and other.pitch.is_learnt):
        return True
    off = (one.pitch.error_deg - other.pitch.error_deg) ** 2
    return bool(np.mean(off / (one.pitch.sd_deg**2 + other.pitch.sd_deg**2)) < _ANOTHER_WHEEL)


def _on(seen: CamSeen, pitch: PitchError, run_out: RunOut) -> list[RepeatingEdge]:
    """A cam's edges with other places of the teeth and another run-out; counted as before."""
    out, more = [], run_out.less(seen.run_out)
    own, common = (angle_map(seen.amap.lock, pitch=places) for places in (seen.amap.pitch, pitch))
    for edge in seen.edges:
        off = common.at(edge.times_s).deg - own.at(edge.times_s).deg
        sector = seen.amap.sector_deg
        off = (off + sector / 2.0) % sector - sector / 2.0
        moved = replace(edge, angles_deg=edge.angles_deg + np.where(np.isfinite(off), off, 0.0))
        out.append(corrected_edge(moved, seen.amap, more))
    return out


def _as_described(seen: CamSeen, edges: Sequence[RepeatingEdge]) -> Described:
    angles = np.array([edge.angle_deg for edge in edges])
    return Described(seen.cam or seen.name, angles, tuple(edge.rising for edge in edges), True, False)


def _sd(pairs: Sequence[Pair], first: CamSeen, second: CamSeen, spread_deg: float) -> float:
    """Standard deviation of the mean change over some edges."""
    teeth = np.zeros_like(first.amap.pitch.sd_deg)
    once = np.zeros(2)
    for old, new in pairs:
        moved = footing_of(second.amap, new.times_s) - footing_of(first.amap, old.times_s)
        teeth, once = teeth + moved.teeth / len(pairs), once + moved.once / len(pairs)
    amap = first.amap
    sds = first.run_out.sd_deg, second.run_out.sd_deg
    # Taken from one recording for both it mostly cancels; each from its own it does not.
    own_each = not same_run_out(first.run_out, second.run_out)
    run_out_sd = min(sds)
    place = ((teeth * place_sd_deg(amap)) ** 2).sum() + (once**2).sum() * run_out_sd**2
    place += sds[0] ** 2 + sds[1] ** 2 if own_each else 0.0
    old_edges, new_edges = [old for old, _ in pairs], [new for _, new in pairs]
    # What sensors, and channels of one instrument, are late by is the same both times, but for the speed.
    speeds = mean_speed_deg_s(old_edges), mean_speed_deg_s(new_edges)
    differ = abs(speeds[1] - speeds[0])
    lag = float(
        np.hypot(differ * second.lag_s, (differ if first.skew_s == second.skew_s else speeds[1]) * second.skew_s)
    )
    scatter = sd_of_mean(old_edges), sd_of_mean(new_edges)
    swing = _SWING_SD_DEG * min(differ / (_SWING_SPEED * max(*speeds, 1.0)), 1.0)
    # Of what the edges disagree by, scatter alone explains so much; the rest is each edge's own.
    left = max(spread_deg**2 - len(pairs) * (scatter[0] ** 2 + scatter[1] ** 2), swing**2)
    zero = [zero_wander_deg(seen.every) if seen.coil else 0.0 for seen in (first, second)]
    moved_zero = float(np.hypot(shifted_deg(first.amap, second.amap), _ZERO_MOVES * np.mean(zero)))
    doubts = (np.sqrt(place) * amap.lock.crank_per_turn, *scatter, lag, np.sqrt(left / len(pairs)), moved_zero)
    return float(np.sqrt(np.sum(np.square(doubts))))


def changes_within(
    seen: CamSeen, turns: TurnSpeeds, condition: Condition, source: Provenance
) -> tuple[list[Finding], list[NotMeasured]]:
    """How far a cam moves within one recording: from state to state, with speed, or with time.

    Parameters
    ----------
    seen : CamSeen
    turns : TurnSpeeds
    condition : Condition
        As told by the sidecar.
    source : Provenance

    Returns
    -------
    tuple of (findings, not measured)
        Quantity ``cam_phase_change`` [deg], + = earlier in the second. One state over too few cycles to compare
        leaves nothing to say.
    """
    found = []
    for words, first, second, taken in _parts(seen, turns, condition):
        pairs = [
            (old, new)
            for edge in steady(seen.every, coil=seen.coil)
            if (old := during(edge, first)) is not None and (new := during(edge, second)) is not None
            if min(old.count, new.count) >= _LEAST_CYCLES
        ]
        if not pairs:
            continue
        late = np.array([new.angles_deg.mean() - old.angles_deg.mean() for old, new in pairs])
        sd = _sd(pairs, seen, seen, float(np.std(late)))
        method = f"{words}, {len(pairs)} edge{'' if len(pairs) == 1 else 's'}, between the same teeth"
        span = replace(source, from_s=second[0][0], to_s=second[-1][1])
        found.append(Finding("cam_phase_change", place_of(seen), -float(late.mean()), sd, taken, span, method))
    if found or len(state_runs(turns, condition.state)) < 2:
        return found, []
    why = f"No two parts of the recording show this cam over {_LEAST_CYCLES} cycles each"
    return [], [NotMeasured("cam_phase_change", place_of(seen), why, "a longer recording, at two speeds if need be")]


def _parts(
    seen: CamSeen, turns: TurnSpeeds, condition: Condition
) -> Iterator[tuple[str, list[Span], list[Span], Condition]]:
    """Pairs of parts worth comparing: words, stretches of the first and of the second, condition of the second."""
    runs = state_runs(turns, condition.state)
    for one, other in itertools.pairwise(runs):
        rpms = [float(turns.rpm[run.members].mean()) for run in (one, other)]
        first, second = ([(float(turns.from_s[r.members[0]]), float(turns.to_s[r.members[-1]]))] for r in (one, other))
        words = f"from {one.state} ({rpms[0]:.0f} rpm) to {other.state} ({rpms[1]:.0f} rpm)"
        yield words, first, second, replace(condition, state=other.state, speed_rpm=round(rpms[1], 0))
    if len(runs) != 1:
        return
    (run,) = runs
    rpm = turns.rpm
    low, high = np.quantile(rpm, [1 / 3, 2 / 3])
    spans: list[Span] = [(float(a), float(b)) for a, b in zip(turns.from_s, turns.to_s, strict=True)]
    if high > low * (1.0 + _SPEED_DIFFERS):
        slow = [s for s, r in zip(spans, rpm, strict=True) if r <= low]
        fast = [s for s, r in zip(spans, rpm, strict=True) if r >= high]
        means = float(rpm[rpm <= low].mean()), float(rpm[rpm >= high].mean())
        taken = replace(condition, state=run.state, speed_rpm=round(means[1], 0))
        yield f"from slow ({means[0]:.0f} rpm) to fast ({means[1]:.0f} rpm)", slow, fast, taken
        return
    begin, end = spans[0][0], spans[-1][1]
    third = (end - begin) / 3.0
    taken = replace(condition, state=run.state, speed_rpm=round(float(rpm.mean()), 0))
    yield "from the first third to the last", [(begin, begin + third)], [(end - third, end)], taken
