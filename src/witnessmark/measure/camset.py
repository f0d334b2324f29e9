"""The cams of a recording together: one count of the turns, one zero, each channel against its wheel's description."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.decode.cam import RepeatingEdge
from witnessmark.decode.roles import Roles
from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine
from witnessmark.measure.averaging import LAG_SD_S, LAG_UNLIKE_SD_S, agreeing, during
from witnessmark.measure.cams import CamSeen
from witnessmark.measure.camwheel import Described, cams_of_channels, described_edges
from witnessmark.measure.channels import Wired
from witnessmark.measure.matching import Matched, match_cams
from witnessmark.measure.runout import RunOut, corrected_edge
from witnessmark.measure.turncount import first_turn_shift

__all__ = ["read_cams"]

Edges = list[RepeatingEdge]


def read_cams(
    wired: Sequence[Wired],
    roles: Roles,
    crank: Wired,
    engine: Engine | None,
    run_out: RunOut,
    spans: Sequence[tuple[float, float]],
    counts_deg: Sequence[float],
) -> tuple[tuple[CamSeen, ...], float]:
    """Cam channels, set against the description.

    Parameters
    ----------
    wired : sequence of Wired
    roles : Roles
        With a map.
    crank : Wired
    engine : Engine, optional
    run_out : RunOut
        Of the crank wheel; it is taken off all angles.
    spans : sequence of (from, to) [s]
        When the recording was in the state that findings speak of.
    counts_deg : sequence of float [deg]
        What may have to be added to the crank's angle; several where lost teeth leave its index in doubt.

    Returns
    -------
    cams : tuple of CamSeen
    float [deg]
        What was added to the map's angles.
    """
    amap = roles.map
    assert amap is not None
    read = [
        (one, [corrected_edge(edge, amap, run_out) for edge in role.reading.edges])
        for one, role in zip(wired, roles.channels, strict=True)
        if role.role == "cam" and role.reading is not None and role.reading.edges
    ]
    main = [_in_state(every, spans) for _, every in read]
    shift = first_turn_shift([edge for edges in main for edge in edges], amap.sector_deg)
    main = [_moved(edges, shift) for edges in main]
    named = cams_of_channels([one.wheel for one, _ in read], main, engine)
    described = [described_edges(engine, cam) if cam is not None else None for cam, _ in named]
    matched = match_cams(main, described, amap.sector_deg, counts_deg=counts_deg)
    zero_known = len(counts_deg) == 1
    moved = counts_deg[0] if zero_known else _settled(matched, described, amap.sector_deg)
    if moved:
        # Lost teeth moved the index, or left it in doubt and the cams tell which gap it is.
        main = [_moved(edges, moved) for edges in main]
        again = first_turn_shift([edge for edges in main for edge in edges], amap.sector_deg)
        main = [_moved(edges, again) for edges in main]
        shift = shift + moved + again
        matched = match_cams(main, described, amap.sector_deg)
    zero_known = moved is not None
    cams = tuple(
        CamSeen(
            one.trace.name,
            cam,
            why,
            tuple(edges),
            tuple(_moved(every, shift)),
            amap,
            run_out,
            ideal,
            fit if not isinstance(fit, str) else None,
            fit if isinstance(fit, str) else "",
            _lag(engine, cam),
            one.skew_to(crank),
            zero_known,
            _is_coil(engine, cam),
        )
        for (one, every), edges, (cam, why), ideal, fit in zip(read, main, named, described, matched, strict=True)
    )
    return cams, shift


def _lag(engine: Engine | None, cam: str | None) -> float:
    """Doubt of the time by which one sensor speaks later than another [s]."""
    kinds = [wheel.sensor_kind for name in (CRANK, cam or "") if engine and (wheel := engine.wheel(name)) is not None]
    return LAG_UNLIKE_SD_S if len(kinds) == 2 and None not in kinds and kinds[0] != kinds[1] else LAG_SD_S


def _is_coil(engine: Engine | None, cam: str | None) -> bool:
    wheel = engine.wheel(cam) if engine is not None and cam is not None else None
    return wheel is not None and wheel.sensor_kind == "reluctance"


def _in_state(every: Edges, spans: Sequence[tuple[float, float]]) -> Edges:
    """Edges as seen in a state; all that was seen where that is nothing."""
    within = [during(edge, spans) for edge in every]
    return [agreeing(edge) for edge in [edge for edge in within if edge is not None] or every]


def _moved(edges: Edges, deg: float) -> Edges:
    """All angles moved, in the order of angle."""
    return sorted((edge.moved(deg) for edge in edges), key=lambda edge: edge.angle_deg)


def _settled(
    matched: Sequence[Matched | str], described: Sequence[Described | None], sector_deg: float
) -> float | None:
    """By how much the count of the crank is off as the described cams have it; None where none tells."""
    for fit, ideal in zip(matched, described, strict=True):
        if not isinstance(fit, str) and ideal is not None and ideal.is_absolute:
            return fit.shift_deg % sector_deg
    return None
