"""(engine, state, what is asked) → what it should read, for many states at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State, state_variables
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.errors import InputError, one_of
from witnessmark.predict.cams import apparent_phase, cam_of, command_of, reported_phase, sensor_offset
from witnessmark.predict.marks import (
    mark_offset,
    pins_between,
    shaft_of,
    stage_of,
    tensioner_extension,
    wheel_angle,
)
from witnessmark.predict.model import DriveModel, Numbers, Values
from witnessmark.vocabulary import Condition, Query

__all__ = ["Expectation", "Nuisance", "command_key", "expect", "misplaced", "nuisances", "why_not"]


@dataclass(frozen=True, slots=True)
class Expectation:
    """What is expected of several quantities, for n states.

    Parameters
    ----------
    mean : ndarray, shape (n, q)
        In the quantities' units; NaN where no such reading would exist. Of a yes/no
        quantity the chance of yes.
    tolerance : ndarray, shape (q,)
        Standard deviation of the *nominal* beyond what the state vector's healthy spread
        carries: how well the described number fits a sound engine of the kind.
    """

    mean: NDArray[np.float64]
    tolerance: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Nuisance:
    """Something healthy engines differ in: a state variable at a place, or an assumed number.

    Parameters
    ----------
    variable : str
        State variable, or the key of a number ("command:b1.intake:idle:None").
    place : str
        Place id; empty for a number.
    mean, sd : float
        In the unit of the variable: shape () each.
    """

    variable: str
    place: str
    mean: float
    sd: float

    @property
    def is_number(self) -> bool:
        """True for a number of the condition or description rather than of the state."""
        return self.place == ""


def command_key(cam: str, condition: Condition) -> str:
    """The key under which a cam's command in a condition may be assumed.

    Parameters
    ----------
    cam : str
    condition : Condition

    Returns
    -------
    str
    """
    return f"command:{cam}:{condition.state}:{condition.phaser}"


_Predictor = Callable[[DriveModel, Query, State, Numbers], Values]


def _command(model: DriveModel, cam: str, query: Query, numbers: Numbers) -> Values:
    return numbers.get(command_key(cam, query.condition), command_of(model, cam, query.condition)[0])


def _phase_error(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    """Apparent phase less the known command; an unknown one widens it (docs/conventions.md)."""
    cam = cam_of(model, query)
    command = _command(model, cam, query, numbers)
    known, _ = command_of(model, cam, query.condition)
    return apparent_phase(model, cam, state, numbers, command) - known


def _separation(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    one, other = cam_of(model, query), cam_of(model, query, other=True)
    a = apparent_phase(model, one, state, numbers, _command(model, one, query, numbers))
    b = apparent_phase(model, other, state, numbers, _command(model, other, query, numbers))
    known = command_of(model, one, query.condition)[0] - command_of(model, other, query.condition)[0]
    return a - b - known


def _reported(less_target: bool) -> _Predictor:
    def rule(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
        cam = cam_of(model, query)
        return reported_phase(model, cam, state, numbers, _command(model, cam, query, numbers), less_target=less_target)

    return rule


def _edge_angle(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    """A later edge has a larger angle; predicted only where the description places it."""
    nominal = _described_edge(model, query)
    assert nominal is not None
    return nominal - _phase_error(model, query, state, numbers)


def _described_edge(model: DriveModel, query: Query) -> float | None:
    wheel = model.engine.wheel(model.engine.cam_at(query.place))
    number = query.place.get("edge")
    if wheel is None or not wheel.edges:
        return None
    index = int(number) - 1 if number is not None and str(number).isdigit() else (0 if len(wheel.edges) == 1 else -1)
    return wheel.edges[index].behind_index_deg.mean if 0 <= index < len(wheel.edges) else None


def _learnt(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    cam = model.engine.cam_at(query.place)
    sign = numbers.get("sign", model.engine.reporting.sign.mean or 1.0)
    return sign * state.get("learnt_error", f"cam_zero:{cam}")


def _tdc(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    """Pressure TDC less wheel TDC: an early wheel has its TDC before the piston's."""
    return state.get("wheel_slip", CRANK) + sensor_offset(state, CRANK)


def _scatter(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    """Scatter of cam edges from cycle to cycle: a cam free within its lock's play or a slack
    chain wanders; base, and degrees per mm of slack: our guess.
    """
    cam = cam_of(model, query)
    play = np.asarray(state.get("phaser_lock_play", cam)) / 12.0**0.5
    slack = sum(np.asarray(state.get("slack", leg.stage)) for leg in model.legs[cam])
    scatter: Values = np.sqrt(0.15**2 + play**2 + (0.08 * slack) ** 2)
    return scatter


def _pins(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    other = query.place.get("other_mesh")
    stage, near, far = stage_of(model, str(query.place.get("mesh")), str(other) if other else None)
    more, nominal = pins_between(model, stage, near, far, state)
    assert nominal is not None
    return nominal + more


def _mark(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    return mark_offset(model, shaft_of(model, str(query.place.get("mark"))), state, numbers)


def _tensioner(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    assert model.engine.drive is not None
    stage = model.engine.drive.stage(str(query.place.get("chain")))
    return (stage.tensioner_rest_mm.mean or _USUAL_REST_MM) + tensioner_extension(model, stage, state)


def _wheel(model: DriveModel, query: Query) -> str:
    name = query.place.get("wheel") or CRANK
    return shaft_of(model, str(name))


def _wheel_seen(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    return wheel_angle(model, _wheel(model, query), state)


def _pitch_error(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    return 0.05 + state.get("wheel_runout", _wheel(model, query))


def _missing(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    wheel = _wheel(model, query)
    weak = np.maximum(0.0, 0.35 - np.asarray(state.get("sensor_gain", wheel))) * 20.0
    return state.get("wheel_bad_teeth", wheel) + weak


def _teeth(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    """Even edges a turn; a foreign wheel may have any number."""
    wheel = _wheel(model, query)
    count = _described_teeth(model, query)
    assert count is not None
    seen = count - np.asarray(state.get("wheel_bad_teeth", wheel))
    return np.where(np.asarray(state.get("fitted_part", wheel)) > 1.5, np.nan, seen)


def _described_teeth(model: DriveModel, query: Query) -> float | None:
    wheel = model.engine.wheel(_wheel(model, query))
    if wheel is None:
        return None
    if wheel.gaps_deg:
        return float(len(wheel.gaps_deg))
    return float(parse_wheel(wheel.pattern).n_edges) if wheel.pattern else None


def _polarity(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    """Chance that the polarity is as it should be."""
    polarity = np.asarray(state.get("sensor_polarity", str(query.place.get("position") or CRANK)))
    return np.asarray(0.5 * (1.0 + polarity))


def _slew(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    cam = cam_of(model, query)
    moves = np.abs(np.asarray(state.get("phaser_gain", cam)))
    stuck = np.abs(np.asarray(state.get("spool_offset", cam))) > 0.1
    return np.where(stuck, 0.0, state.get("phaser_rate", cam) * moves)


def _part_shaft(query: Query) -> str:
    """The shaft of a wheel or sensor given as "wheel:crank"."""
    return str(query.place.get("part")).removeprefix("wheel:").removeprefix("sensor:")


def _identity(model: DriveModel, query: Query, state: State, numbers: Numbers) -> Values:
    """Chance that the part's number is on the list."""
    fitted = np.asarray(state.get("fitted_part", shaft_of(model, _part_shaft(query))))
    return np.where(fitted > 0.5, 0.05, 0.97)


# Quantity → predictor, tolerance of the nominal beyond the healthy spread of the state.
# Tolerances are our guess, to be replaced by baselines.
_TABLE: Mapping[str, tuple[_Predictor, float]] = {
    "cam_phase_error": (_phase_error, 0.3),
    "cam_edge_angle": (_edge_angle, 0.3),
    "cam_separation": (_separation, 0.4),
    "cam_phase_reported": (_reported(False), 0.5),
    "cam_deviation": (_reported(True), 0.7),
    "learnt_reported": (_learnt, 2.0),
    "tdc_offset": (_tdc, 0.5),
    "phase_scatter": (_scatter, 0.1),
    "pins_between": (_pins, 0.0),
    "mark_offset": (_mark, 0.1),
    "tensioner_extension": (_tensioner, 0.7),
    "wheel_angle_seen": (_wheel_seen, 0.3),
    "wheel_pitch_error": (_pitch_error, 0.05),
    "edges_missing": (_missing, 0.05),
    "wheel_teeth_seen": (_teeth, 0.2),
    "signal_polarity": (_polarity, 0.0),
    "phaser_slew": (_slew, 15.0),
    "part_identity": (_identity, 0.0),
}
_USUAL_REST_MM = 6.0
_KNOWN_REST_MM = 1.5  # a described rest, and how unevenly tensioners turn surplus into travel; our guess
_UNKNOWN_REST_MM = 4.0  # spread of a tensioner's rest where nothing describes it; our guess


_UNPLACED_EDGE = "no place of its own is described for this edge; the cam's angle to the crank is what counts"
_OF_ONE_CAM = ("cam_edge_angle", "cam_phase_error", "phase_scatter")


def misplaced(model: DriveModel, query: Query) -> InputError | None:
    """The error for a place that this engine does not have, or None where it has it.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    InputError or None
        Ready to raise.
    """
    place = query.place
    try:
        if place.get("cam") is not None:
            cam_of(model, query)
        if place.get("other_cam") is not None:
            cam_of(model, query, other=True)
        for key in ("mark", "wheel", "position"):
            if place.get(key) is not None:
                shaft_of(model, str(place.get(key)))
        if query.quantity == "part_identity":
            shaft_of(model, _part_shaft(query))
        if place.get("mesh") is not None:
            other = place.get("other_mesh")
            stage_of(model, str(place.get("mesh")), str(other) if other else None)
    except InputError as error:
        return error
    drive = model.engine.drive
    chains = [stage.id for stage in drive.stages] if drive is not None else []
    if place.get("chain") is not None and place.get("chain") not in chains:
        return one_of("chain of this drive", str(place.get("chain")), chains)
    return None


def why_not(model: DriveModel, query: Query) -> str | None:
    """Why a quantity cannot be predicted here, or None where it can.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    str or None
    """
    if query.quantity not in _TABLE:
        return "nothing in this version predicts it"
    if (error := misplaced(model, query)) is not None:
        return error.message
    if query.quantity in _OF_ONE_CAM and query.place.get("cam") is None:
        return "nothing says which cam this channel watches"
    if query.quantity == "cam_edge_angle" and _described_edge(model, query) is None:
        return _UNPLACED_EDGE
    if query.quantity == "wheel_teeth_seen" and _described_teeth(model, query) is None:
        return "the description does not say how many teeth this wheel has"
    if query.quantity == "pins_between":
        other = query.place.get("other_mesh")
        stage, near, far = stage_of(model, str(query.place.get("mesh")), str(other) if other else None)
        if pins_between(model, stage, near, far, State({}))[1] is None:
            return "the description does not say how many pins belong there"
    return None


def expect(
    model: DriveModel, queries: Sequence[Query], state: State, numbers: Numbers | None = None, *, rows: int = 1
) -> Expectation:
    """What every query should read under every state.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query, length q
        Each must be predictable here (:func:`why_not` gives None).
    state : State
        n states side by side.
    numbers : mapping, optional
        Description numbers assumed for this batch: "step:primary", "sign" …
    rows : int
        n.

    Returns
    -------
    Expectation

    Raises
    ------
    InputError
        For a place this engine does not have.
    """
    assumed = numbers or {}
    mean = np.empty((rows, len(queries)))
    tolerance = np.empty(len(queries))
    for j, query in enumerate(queries):
        rule, spread = _TABLE[query.quantity]
        mean[:, j] = rule(model, query, state, assumed)
        tolerance[j] = _rest_spread(model, query) if query.quantity == "tensioner_extension" else spread
    return Expectation(mean, tolerance)


def _rest_spread(model: DriveModel, query: Query) -> float:
    assert model.engine.drive is not None
    stage = model.engine.drive.stage(str(query.place.get("chain")))
    return _KNOWN_REST_MM if stage.tensioner_rest_mm.is_known else _UNKNOWN_REST_MM


_PER_PLACE = {
    "mesh": (),
    "cam": ("phaser_rest", "phaser_gain", "phaser_rate", "phaser_lock_play"),
    "sprocket": ("sprocket_slip",),
    "chain": ("elongation", "slack", "guide_wear"),
    "wheel": ("wheel_slip", "wheel_runout", "sensor_offset"),
    "cam_zero": ("learnt_error",),
}


def nuisances(model: DriveModel, queries: Sequence[Query]) -> tuple[Nuisance, ...]:
    """Everything healthy engines of this kind differ in that may move these quantities.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query

    Returns
    -------
    tuple of Nuisance
    """
    known = state_variables()
    found = [
        Nuisance(name, place, known[name].healthy, known[name].sd)
        for place, names in _nuisance_places(model)
        for name in names
        if known[name].sd > 0.0
    ]
    keys = {}
    for query in queries:
        if query.quantity in (
            "cam_phase_error",
            "cam_edge_angle",
            "cam_separation",
            "cam_phase_reported",
            "cam_deviation",
        ):
            cams = [cam_of(model, query)]
            if query.quantity == "cam_separation":
                cams.append(cam_of(model, query, other=True))
            for cam in cams:
                keys[command_key(cam, query.condition)] = command_of(model, cam, query.condition)
    return (*found, *(Nuisance(key, "", mean, sd) for key, (mean, sd) in keys.items() if sd > 0.0))


def _nuisance_places(model: DriveModel) -> list[tuple[str, tuple[str, ...]]]:
    assert model.engine.drive is not None
    places: list[tuple[str, tuple[str, ...]]] = [(CRANK, _PER_PLACE["wheel"])]
    for cam in model.engine.cams:
        places.append((cam.id, _PER_PLACE["wheel"]))
        if model.engine.drive.phaser(cam.id) is not None:
            places.append((cam.id, _PER_PLACE["cam"]))
        if model.engine.reporting.learns is not False:
            places.append((f"cam_zero:{cam.id}", _PER_PLACE["cam_zero"]))
    for stage in model.engine.drive.stages:
        if stage.kind == "chain":
            places.append((stage.id, _PER_PLACE["chain"]))
        places += [(stage.mesh(sprocket.shaft), _PER_PLACE["sprocket"]) for sprocket in stage.sprockets]
    return places
