"""What tests of the timing drive, its wheels and its sensors show."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

import numpy as np

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import HEALTHY, healthy_of, state_variables
from witnessmark.engine.stateplaces import state_places
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.errors import InputError, one_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import apparent_phase, cam_of, command_of, reported_phase, sensor_offset
from witnessmark.predict.marks import mark_offset, pins_between, shaft_of, stage_of, tensioner_extension, wheel_angle
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES", "command_key", "commanded", "misplaced", "open_command", "sound_drive"]


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


_USUAL_REST_MM = 6.0
_KNOWN_REST_MM = 1.5  # a described rest, and how unevenly tensioners turn surplus into travel; our guess
_UNKNOWN_REST_MM = 4.0  # spread of a tensioner's rest where nothing describes it; our guess

_UNPLACED_EDGE = "no place of its own is described for this edge; the cam's angle to the crank is what counts"
_OF_ONE_CAM = ("cam_edge_angle", "cam_phase_error", "phase_scatter")
_OF_COMMANDS = ("cam_phase_error", "cam_edge_angle", "cam_separation", "cam_phase_reported", "cam_deviation")


def commanded(batch: Batch, cam: str, condition: Condition) -> Values:
    """Command to a cam: as assumed for this batch, else the usual one of the condition.

    Parameters
    ----------
    batch : Batch
    cam : str
    condition : Condition

    Returns
    -------
    float or array, shape (n,) [deg]
        + = advance.
    """
    return batch.number(command_key(cam, condition), command_of(batch.model, cam, condition)[0])


def open_command(model: DriveModel, cam: str, condition: Condition) -> Iterator[Nuisance]:
    """What is open of the command to a cam.

    Parameters
    ----------
    model : DriveModel
    cam : str
    condition : Condition

    Yields
    ------
    Nuisance
        None where the condition settles it.
    """
    mean, sd = command_of(model, cam, condition)
    if sd > 0.0:
        yield Nuisance(command_key(cam, condition), "", mean, sd)


def _phase_error(batch: Batch, query: Query) -> Values:
    """Apparent phase less the known command; an unknown one widens it (docs/conventions.md)."""
    cam = cam_of(batch.model, query)
    command = commanded(batch, cam, query.condition)
    known, _ = command_of(batch.model, cam, query.condition)
    return apparent_phase(batch.model, cam, batch.state, batch.numbers, command) - known


def _separation(batch: Batch, query: Query) -> Values:
    one, other = cam_of(batch.model, query), cam_of(batch.model, query, other=True)
    a = apparent_phase(batch.model, one, batch.state, batch.numbers, commanded(batch, one, query.condition))
    b = apparent_phase(batch.model, other, batch.state, batch.numbers, commanded(batch, other, query.condition))
    known = command_of(batch.model, one, query.condition)[0] - command_of(batch.model, other, query.condition)[0]
    return a - b - known


def _reported(less_target: bool) -> Callable[[Batch, Query], Values]:
    def rule(batch: Batch, query: Query) -> Values:
        cam = cam_of(batch.model, query)
        command = commanded(batch, cam, query.condition)
        return reported_phase(batch.model, cam, batch.state, batch.numbers, command, less_target=less_target)

    return rule


def _edge_angle(batch: Batch, query: Query) -> Values:
    """A later edge has a larger angle; predicted only where the description places it."""
    nominal = _described_edge(batch.model, query)
    assert nominal is not None
    return nominal - _phase_error(batch, query)


def _described_edge(model: DriveModel, query: Query) -> float | None:
    wheel = model.engine.wheel(model.engine.cam_at(query.place))
    number = query.place.get("edge")
    if wheel is None or not wheel.edges:
        return None
    index = int(number) - 1 if number is not None and str(number).isdigit() else (0 if len(wheel.edges) == 1 else -1)
    return wheel.edges[index].behind_index_deg.mean if 0 <= index < len(wheel.edges) else None


def _learnt(batch: Batch, query: Query) -> Values:
    item = str(query.place.get("learnt_item"))
    if item != "cam_zero":
        return batch.get("learnt_error", item)
    cam = batch.model.engine.cam_at(query.place)
    sign = batch.numbers.get("sign", batch.model.engine.reporting.sign.mean or 1.0)
    return sign * batch.get("learnt_error", f"cam_zero:{cam}")


def _tdc(batch: Batch, query: Query) -> Values:
    """Pressure TDC less wheel TDC: an early wheel has its TDC before the piston's."""
    return batch.get("wheel_slip", CRANK) + sensor_offset(batch.state, CRANK)


def _scatter(batch: Batch, query: Query) -> Values:
    """Scatter of cam edges from cycle to cycle: a cam free within its lock's play or a slack
    chain wanders; base, and degrees per mm of slack: our guess.
    """
    cam = cam_of(batch.model, query)
    play = np.asarray(batch.get("phaser_lock_play", cam)) / 12.0**0.5
    slack = sum(np.asarray(batch.get("slack", leg.stage)) for leg in batch.model.legs[cam])
    scatter: Values = np.sqrt(0.15**2 + play**2 + (0.08 * slack) ** 2)
    return scatter


def _pins(batch: Batch, query: Query) -> Values:
    other = query.place.get("other_mesh")
    stage, near, far = stage_of(batch.model, str(query.place.get("mesh")), str(other) if other else None)
    more, nominal = pins_between(batch.model, stage, near, far, batch.state)
    assert nominal is not None
    return nominal + more


def _mark(batch: Batch, query: Query) -> Values:
    return mark_offset(batch.model, shaft_of(batch.model, str(query.place.get("mark"))), batch.state, batch.numbers)


def _tensioner(batch: Batch, query: Query) -> Values:
    assert batch.model.engine.drive is not None
    stage = batch.model.engine.drive.stage(str(query.place.get("chain")))
    return (stage.tensioner_rest_mm.mean or _USUAL_REST_MM) + tensioner_extension(batch.model, stage, batch.state)


def _wheel(model: DriveModel, query: Query) -> str:
    name = query.place.get("wheel") or CRANK
    return shaft_of(model, str(name))


def _wheel_seen(batch: Batch, query: Query) -> Values:
    return wheel_angle(batch.model, _wheel(batch.model, query), batch.state)


def _pitch_error(batch: Batch, query: Query) -> Values:
    return 0.05 + batch.get("wheel_runout", _wheel(batch.model, query))


def _missing(batch: Batch, query: Query) -> Values:
    wheel = _wheel(batch.model, query)
    weak = np.maximum(0.0, 0.35 - np.asarray(batch.get("sensor_gain", wheel))) * 20.0
    return batch.get("wheel_bad_teeth", wheel) + weak


def _teeth(batch: Batch, query: Query) -> Values:
    """Even edges a turn; a foreign wheel may have any number."""
    wheel = _wheel(batch.model, query)
    count = _described_teeth(batch.model, query)
    assert count is not None
    seen = count - np.asarray(batch.get("wheel_bad_teeth", wheel))
    return np.where(np.asarray(batch.get("fitted_part", wheel)) > 1.5, np.nan, seen)


def _described_teeth(model: DriveModel, query: Query) -> float | None:
    wheel = model.engine.wheel(_wheel(model, query))
    if wheel is None:
        return None
    if wheel.gaps_deg:
        return float(len(wheel.gaps_deg))
    return float(parse_wheel(wheel.pattern).n_edges) if wheel.pattern else None


def _polarity(batch: Batch, query: Query) -> Values:
    """Chance that the polarity is as it should be."""
    polarity = np.asarray(batch.get("sensor_polarity", str(query.place.get("position") or CRANK)))
    return np.asarray(0.5 * (1.0 + polarity))


_NUMBERED = ("plug", "injector", "sensor")


def _part(model: DriveModel, query: Query) -> str:
    """State id of a part: of a wheel or position sensor ("wheel:crank") its shaft, of others their own."""
    name = str(query.place.get("part"))
    if any(name in state_places(model.engine, kind) for kind in _NUMBERED):
        return name
    return shaft_of(model, name.removeprefix("wheel:").removeprefix("sensor:"))


def _identity(batch: Batch, query: Query) -> Values:
    """Chance that the part's number is on the list."""
    fitted = np.asarray(batch.get("fitted_part", _part(batch.model, query)))
    return np.where(fitted > 0.5, 0.05, 0.97)


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
            _part(model, query)
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


def _lacks(model: DriveModel, query: Query) -> str | None:
    """Why this engine's description does not give the number."""
    if query.quantity in _OF_ONE_CAM and query.place.get("cam") is None:
        return "nothing says which cam this channel watches"
    if query.quantity == "cam_edge_angle" and _described_edge(model, query) is None:
        return _UNPLACED_EDGE
    if query.quantity == "wheel_teeth_seen" and _described_teeth(model, query) is None:
        return "the description does not say how many teeth this wheel has"
    if query.quantity == "pins_between":
        other = query.place.get("other_mesh")
        stage, near, far = stage_of(model, str(query.place.get("mesh")), str(other) if other else None)
        if pins_between(model, stage, near, far, HEALTHY)[1] is None:
            return "the description does not say how many pins belong there"
    if query.quantity == "learnt_reported" and str(query.place.get("learnt_item")).startswith("fuel_trim"):
        return "a learnt trim says what was, and follows what is; the trim itself is read instead"
    return None


def _rest_spread(model: DriveModel, query: Query) -> Tolerance:
    assert model.engine.drive is not None
    stage = model.engine.drive.stage(str(query.place.get("chain")))
    return Tolerance(_KNOWN_REST_MM if stage.tensioner_rest_mm.is_known else _UNKNOWN_REST_MM)


_PER_PLACE = {
    "cam": ("phaser_rest", "phaser_gain", "phaser_rate", "phaser_lock_play"),
    "sprocket": ("sprocket_slip",),
    "chain": ("elongation", "slack", "guide_wear"),
    "wheel": ("wheel_slip", "wheel_runout", "sensor_offset"),
    "cam_zero": ("learnt_error",),
}


def sound_drive(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """All that sound drives of this kind differ in, and commands that the condition leaves open.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    iterable of Nuisance
    """
    known = state_variables()
    for place, names in _nuisance_places(model):
        for name in names:
            if known[name].sd > 0.0:
                yield Nuisance(name, place, known[name].healthy, known[name].sd)
    if query.quantity in _OF_COMMANDS:
        cams = [cam_of(model, query)]
        if query.quantity == "cam_separation":
            cams.append(cam_of(model, query, other=True))
        for cam in cams:
            yield from open_command(model, cam, query.condition)


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


_LEARNT_SPREAD = {"cam_zero": 2.0, "crank_variation": 0.01, "throttle_zero": 0.3}


def _learnt_spread(model: DriveModel, query: Query) -> Tolerance:
    return Tolerance(_LEARNT_SPREAD.get(str(query.place.get("learnt_item")), 2.0))


def _sound_learning(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """A cam's zero goes with the whole drive; what else is learnt has a spread of its own."""
    item = str(query.place.get("learnt_item"))
    if item == "cam_zero":
        yield from sound_drive(model, query)
    else:
        yield Nuisance("learnt_error", item, *healthy_of("learnt_error", item))


def _rule(read: Callable[[Batch, Query], Values], tolerance: float | Callable[[DriveModel, Query], Tolerance]) -> Rule:
    known = Tolerance(tolerance) if isinstance(tolerance, float) else tolerance
    return Rule(read, known, _lacks, sound_drive)


# Tolerances of the nominal beyond the healthy spread of the state: our guess, to be replaced by baselines.
RULES: Mapping[str, Rule] = {
    "cam_phase_error": _rule(_phase_error, 0.3),
    "cam_edge_angle": _rule(_edge_angle, 0.3),
    "cam_separation": _rule(_separation, 0.4),
    "cam_phase_reported": _rule(_reported(False), 0.5),
    "cam_deviation": _rule(_reported(True), 0.7),
    "learnt_reported": Rule(_learnt, _learnt_spread, _lacks, _sound_learning),
    "tdc_offset": _rule(_tdc, 0.5),
    "phase_scatter": _rule(_scatter, 0.1),
    "pins_between": _rule(_pins, 0.0),
    "mark_offset": _rule(_mark, 0.1),
    "tensioner_extension": _rule(_tensioner, _rest_spread),
    "wheel_angle_seen": _rule(_wheel_seen, 0.3),
    "wheel_pitch_error": _rule(_pitch_error, 0.05),
    "edges_missing": _rule(_missing, 0.05),
    "wheel_teeth_seen": _rule(_teeth, 0.2),
    "signal_polarity": _rule(_polarity, 0.0),
    "part_identity": _rule(_identity, 0.0),
}
