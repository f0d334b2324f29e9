"""Where the crank came to rest and turned back, though its teeth came on: from there nothing is known.

A crank that a piston throws back passes the same teeth the wrong way. Where a tooth seems to be missing just then, or
the index gap to be passing, the train reads on as if it turned forward. What tells is its energy: a crank that slows so
fast that it must stand within the next pitch, and afterwards gains as fast as from rest, has stood in between.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.anglemap import AngleMap, angle_map
from witnessmark.decode.cam import read_cam
from witnessmark.decode.lock import Stretch, WheelLock
from witnessmark.decode.roles import Channel, ChannelRole, Roles

__all__ = ["stood_between", "without_turning_back"]

IntArray = NDArray[np.intp]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# Slower than this from tooth to tooth, in crank turns per minute, the crank may have stood in between.
_STANDING_RPM, _LAST_RPM = 90.0, 150.0
# And by this much slower than on one side of it: a dip of compression is rounder.
_DEEP = 0.6
# So many pitches from its last tooth on a crank may come to rest: what slows it grows toward the dead centre.
_REACH_PITCHES = 1.5
_SHOWN = 3  # intervals in which it slows, or gains
# Only where teeth stand as close as this do two of them show how fast the crank slows.
_CLOSE_PITCH_DEG = 16.0


def stood_between(lock: WheelLock, part: int) -> IntArray:
    """Teeth of a part in front of which the crank stood.

    Parameters
    ----------
    lock : WheelLock
    part : int

    Returns
    -------
    array of int, shape (n,)
        Places among the members of the part; empty on wheels too coarse to say.

    Notes
    -----
    Follows from the energy: the square of the speed falls along a straight line, over a few degrees, under the torque
    of one dead centre. Carried on from the intervals before and back from those after, it must reach zero within
    one and a half pitches; at an end of the part one side is enough, a few teeth are no loss.
    """
    members = lock.members(part)
    pattern, n = lock.pattern, lock.pattern.n_edges
    pitch = pattern.pitch_deg * lock.crank_per_turn
    if pitch > _CLOSE_PITCH_DEG or members.size < 2 * _SHOWN + 2:
        return np.empty(0, dtype=np.intp)
    count = lock.count[members]
    angle = np.diff(360.0 * (count // n) + np.array(pattern.edges_deg)[count % n]) * lock.crank_per_turn
    time = np.diff(lock.times_s[members])
    speed = angle / time
    # Padded with "comes to rest": at an end of the part one side is enough.
    ends = np.ones(_SHOWN, dtype=bool)
    before = np.concatenate((ends, _comes_to_rest(speed, angle, pitch)[_SHOWN - 1 : -1]))
    after = np.concatenate((ends, _comes_to_rest(speed[::-1], angle[::-1], pitch)[_SHOWN - 1 : -1]))[::-1]
    # With no tooth missing: that one should be missing just where the crank comes to rest is the unlikelier reading.
    at_most = np.array(pattern.gaps_deg)[count[:-1] % n] * lock.crank_per_turn / time
    around = np.concatenate((speed[:1], speed, speed[-1:]))
    slowest = at_most < np.minimum(np.minimum(around[:-2], around[2:]), 6.0 * _STANDING_RPM)
    slowest &= at_most < _DEEP * np.maximum(around[:-2], around[2:])
    # At the end of a part the index gap may be where it stood, and a few teeth are no loss.
    last = np.arange(time.size) > time.size - _SHOWN
    slowest |= last & (pitch / time < np.minimum(around[:-2], 6.0 * _LAST_RPM))
    return np.flatnonzero(slowest & before & after) + 1


def _comes_to_rest(speed: FloatArray, angle: FloatArray, pitch: float) -> BoolArray:
    """Whether the crank, slowing over three intervals, comes to rest soon after each: noise slows it but once."""
    out = np.zeros(speed.size, dtype=bool)
    fall = (speed[:-1] ** 2 - speed[1:] ** 2) / (0.5 * (angle[:-1] + angle[1:]))  # per degree
    left = speed[1:] ** 2 - 0.5 * angle[1:] * fall
    out[1:] = left < _REACH_PITCHES * pitch * fall
    out[2:] &= (fall[1:] > 0.0) & (fall[:-1] > 0.0)
    return out


def without_turning_back(roles: Roles, channels: list[Channel]) -> Roles:
    """Roles whose map ends where the crank stood; of each part the longest piece is kept.

    Parameters
    ----------
    roles : Roles
    channels : list of Channel
        That they are the roles of.

    Returns
    -------
    Roles
        The same where the crank never stood.
    """
    amap = roles.map
    if amap is None:
        return roles
    cuts = {part: found for part in range(amap.n_parts) if (found := stood_between(amap.lock, part)).size}
    if not cuts:
        return roles
    kept = _kept(amap, cuts)
    return replace(
        roles, map=kept, channels=tuple(_again(r, c, kept) for r, c in zip(roles.channels, channels, strict=True))
    )


def _again(role: ChannelRole, channel: Channel, amap: AngleMap) -> ChannelRole:
    if role.reading is None:
        return role
    return replace(role, reading=read_cam(amap, channel.times_s, channel.rising, sd_s=channel.sd_s))


def _kept(amap: AngleMap, cuts: dict[int, IntArray]) -> AngleMap:
    """The map with the longest piece of each part; the places of the teeth are learnt anew without the others."""
    lock = amap.lock
    part, void = lock.part.copy(), list(lock.void)
    for number, cut in cuts.items():
        members = lock.members(number)
        bounds = [0, *(int(c) for c in cut), members.size]
        longest = int(np.argmax(np.diff(bounds)))
        low, high = bounds[longest], bounds[longest + 1]
        part[members[:low]], part[members[high:]] = -1, -1
        times = lock.times_s[members]
        void += [Stretch(float(times[0]), float(times[low]), "stop")] if low else []
        void += [Stretch(float(times[high - 1]), float(times[-1]), "stop")] if high < members.size else []
    good = part >= 0
    inside = np.zeros(part.size, dtype=bool)
    for number in range(lock.n_parts):
        own = np.flatnonzero(part == number)
        inside[own[0] : own[-1] + 1] = True
    trimmed = replace(
        lock,
        part=part,
        count=np.where(good, lock.count, -1),
        missing=np.where(good, lock.missing, 0),
        extra=lock.extra & inside,
        void=_together(void),
    )
    again = angle_map(trimmed)
    for number in range(lock.n_parts):
        old = amap.knots_deg[(lock.part[lock.good] == number) & good[lock.good]]
        off = float(old[0] - again.knots_deg[again.part == number][0])
        again = again.shifted(number, float(np.rint(off / amap.sector_deg)) * amap.sector_deg)
    return again


def _together(void: list[Stretch]) -> tuple[Stretch, ...]:
    """Void stretches in the order of time, those that meet as one; a stop outweighs the other reasons."""
    out: list[Stretch] = []
    for stretch in sorted(void, key=lambda one: one.from_s):
        if out and stretch.from_s <= out[-1].to_s:
            reason = "stop" if "stop" in (out[-1].reason, stretch.reason) else stretch.reason
            out[-1] = Stretch(out[-1].from_s, max(out[-1].to_s, stretch.to_s), reason)
        else:
            out.append(stretch)
    return tuple(out)
