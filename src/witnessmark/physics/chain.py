"""Sprockets, chains and belts in mesh: diameters, speeds, and the crank degrees of one pitch.

In mesh N_a θ_a - N_b θ_b = 360° times a whole number: one pitch is the same crank angle at every sprocket of one
chain, whatever lies between the chain and the crank (docs/physics.md, "one pitch").
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK, Stage, TimingDrive
from witnessmark.engine.types import cam_of_id
from witnessmark.errors import EngineDefinitionError

__all__ = [
    "CAM_RATIO",
    "Values",
    "belt_pulley_diameter",
    "chordal_ripple",
    "crank_teeth_for",
    "mesh_steps_deg",
    "pitch_diameter",
    "pitch_step_deg",
    "roll_on_radius",
    "shaft_ratios",
    "staged_ratio",
    "step_deg",
]

Values = float | NDArray[np.float64]

CAM_RATIO = 0.5
"""Cam turns per crank turn of a four-stroke engine."""


def pitch_diameter(n_teeth: Values, pitch: Values) -> Values:
    """Diameter of the circle through the pins of a roller or silent chain on its sprocket.

    Parameters
    ----------
    n_teeth : float or array, shape (n,)
        Tooth count, at least 6.
    pitch : float or array, shape (n,) [m]
        Distance between pins.

    Returns
    -------
    float or array, shape (n,) [m]

    Raises
    ------
    EngineDefinitionError
        For fewer than 6 teeth or a pitch that is not above 0.

    Notes
    -----
    d = p / sin(180°/N), ISO 606 Annex A (docs/physics.md, "sprockets and belts"). Unworn chain.

    Examples
    --------
    >>> f"{1000 * pitch_diameter(36, 0.0254):.2f} mm"
    '291.43 mm'
    """
    _refuse_bad(n_teeth, pitch)
    return pitch / np.sin(np.pi / n_teeth)


def roll_on_radius(n_teeth: Values, pitch: Values) -> Values:
    """Radius of the circle that would roll as fast as the chain runs on average.

    Parameters
    ----------
    n_teeth : float or array, shape (n,)
        Tooth count, at least 6.
    pitch : float or array, shape (n,) [m]

    Returns
    -------
    float or array, shape (n,) [m]

    Raises
    ------
    EngineDefinitionError
        For fewer than 6 teeth or a pitch that is not above 0.

    Notes
    -----
    N p / 2π, by definition: N pitches pass in one turn. A little less than the pitch radius, so phases follow from
    tooth counts, never from radii (docs/physics.md, "sprockets and belts").

    Examples
    --------
    >>> f"{roll_on_radius(21, 0.008) / (pitch_diameter(21, 0.008) / 2):.6f}"
    '0.996274'
    """
    _refuse_bad(n_teeth, pitch)
    return n_teeth * pitch / (2.0 * np.pi)


def belt_pulley_diameter(n_teeth: Values, pitch: Values) -> Values:
    """Diameter on which the cord of a toothed belt runs around its pulley.

    Parameters
    ----------
    n_teeth : float or array, shape (n,)
        Tooth count, at least 6.
    pitch : float or array, shape (n,) [m]

    Returns
    -------
    float or array, shape (n,) [m]

    Raises
    ------
    EngineDefinitionError
        For fewer than 6 teeth or a pitch that is not above 0.

    Notes
    -----
    d = p z / π, by definition of the pitch line (ISO 5296; docs/physics.md, "sprockets and belts").

    Examples
    --------
    >>> f"{1000 * belt_pulley_diameter(20, 0.009525):.3f} mm"
    '60.638 mm'
    """
    return 2.0 * roll_on_radius(n_teeth, pitch)


def chordal_ripple(n_teeth: Values) -> Values:
    """Share by which the chain's speed falls and rises as each pin runs onto the sprocket.

    Parameters
    ----------
    n_teeth : float or array, shape (n,)
        Tooth count, at least 6.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    EngineDefinitionError
        For fewer than 6 teeth.

    Notes
    -----
    1 - cos(180°/N) follows from the pitch polygon's inner over its outer radius
    (docs/physics.md, "sprockets and belts").

    Examples
    --------
    >>> f"{chordal_ripple(21):.6f}"
    '0.011169'
    """
    _refuse_bad(n_teeth, 1.0)
    return 1.0 - np.cos(np.pi / n_teeth)


def _refuse_bad(n_teeth: Values, pitch: Values) -> None:
    if np.any(np.asarray(n_teeth) < 6):
        raise EngineDefinitionError(f"{np.min(n_teeth):g} teeth", expected="at least 6")
    if np.any(np.asarray(pitch) <= 0.0):
        raise EngineDefinitionError(f"a pitch of {np.min(pitch):g} m", expected="more than 0")


def staged_ratio(pairs: Sequence[tuple[float, float]]) -> float:
    """Speed of the last shaft over the crank's, through several chains.

    Parameters
    ----------
    pairs : sequence of (float, float), shape (n, 2)
        Driving and driven tooth count of each stage, crank end first.

    Returns
    -------
    float, shape () [-]

    Raises
    ------
    EngineDefinitionError
        For a count that is not above 0.

    Notes
    -----
    Product of driving over driven teeth, by definition of the mesh; 1/2 for a cam of a four-stroke engine
    (docs/physics.md, "stages").

    Examples
    --------
    >>> staged_ratio([(20, 32), (28, 35)])
    0.5
    """
    ratio = 1.0
    for driving, driven in pairs:
        if driving <= 0.0 or driven <= 0.0:
            raise EngineDefinitionError(f"a stage of {driving:g} to {driven:g} teeth", expected="counts above 0")
        ratio = ratio * driving / driven
    return ratio


def crank_teeth_for(cam_teeth: Values) -> Values:
    """Teeth the crank sprocket needs if it drives a cam sprocket directly.

    Parameters
    ----------
    cam_teeth : float or array, shape (n,)

    Returns
    -------
    float or array, shape (n,)
        Not a whole number for an odd cam sprocket: it cannot be a direct 2:1 drive.

    Notes
    -----
    Half, by definition of the four-stroke cycle (docs/physics.md, "stages").

    Examples
    --------
    >>> crank_teeth_for(35)
    17.5
    """
    return CAM_RATIO * cam_teeth


def step_deg(n_teeth: Values, ratio: Values) -> Values:
    """Crank degrees that pass while one pitch passes a sprocket.

    Parameters
    ----------
    n_teeth : float or array, shape (n,)
        Its tooth count.
    ratio : float or array, shape (n,) [-]
        Its speed over the crank's: 1 for the crank, 1/2 for a cam.

    Returns
    -------
    float or array, shape (n,) [deg]

    Raises
    ------
    EngineDefinitionError
        If either is not above 0.

    Notes
    -----
    360/N · ω_crank/ω follows from a pitch turning the sprocket by 360/N of its own degrees
    (docs/physics.md, "one pitch").

    Examples
    --------
    >>> step_deg(20, 1.0), step_deg(36, 0.5)
    (18.0, 20.0)
    """
    if np.any(np.asarray(n_teeth) <= 0) or np.any(np.asarray(ratio) <= 0):
        raise EngineDefinitionError(f"{n_teeth} teeth at {ratio} of the crank's speed", expected="both above 0")
    return 360.0 / (n_teeth * ratio)


def shaft_ratios(drive: TimingDrive) -> Mapping[str, float]:
    """Speed of every shaft over the crank's, as far as exact tooth counts tell.

    Parameters
    ----------
    drive : TimingDrive

    Returns
    -------
    mapping of str to float [-]
        The crank is 1, every cam 1/2; an idler is there where counts tie it to one of them.

    Notes
    -----
    Follows from one chain having one speed, N ω, at all its sprockets (docs/physics.md, "one pitch"). The crank's side
    is asked first.

    Examples
    --------
    >>> from witnessmark.engine.drive import Sprocket, Stage, TimingDrive
    >>> from witnessmark.engine.number import Number
    >>> def wheel(shaft, n):
    ...     return Sprocket(shaft, Number.exactly(n))
    >>> primary = Stage("primary", "chain", wheel("crank", 20), (wheel("idler", 32),))
    >>> 360 * shaft_ratios(TimingDrive((primary,)))["idler"]
    225.0
    """
    ratios = {CRANK: 1.0}
    _spread(drive, ratios)
    ratios |= {s.shaft: CAM_RATIO for _, s in drive.meshes() if cam_of_id(s.shaft) is not None}
    _spread(drive, ratios)
    return ratios


def _spread(drive: TimingDrive, ratios: dict[str, float]) -> None:
    """Follow the chains from the shafts whose speed is known, until nothing new is found."""
    before = 0
    while len(ratios) > before:
        before = len(ratios)
        for stage in drive.stages:
            speed = _chain_speed(stage, ratios)
            for sprocket in stage.sprockets if speed is not None else ():
                if (teeth := sprocket.teeth.exact) is not None and speed is not None:
                    ratios.setdefault(sprocket.shaft, speed / teeth)


def _chain_speed(stage: Stage, ratios: Mapping[str, float]) -> float | None:
    """Pitches of a stage that pass in one turn of the crank."""
    for sprocket in stage.sprockets:
        if (teeth := sprocket.teeth.exact) is not None and sprocket.shaft in ratios:
            return teeth * ratios[sprocket.shaft]
    return None


def pitch_step_deg(drive: TimingDrive, stage: Stage, shaft: str) -> float | None:
    """Crank degrees of one pitch where a chain runs over a shaft.

    Parameters
    ----------
    drive : TimingDrive
    stage : Stage
        One of its chains or belts.
    shaft : str
        A shaft it runs over.

    Returns
    -------
    float, shape () [deg], or None
        None where no exact tooth count settles it.

    Raises
    ------
    EngineDefinitionError
        If the stage does not run over the shaft.

    Notes
    -----
    360/N · ω_crank/ω at this sprocket; where its count is not known, at any other sprocket of the same chain: that it
    gives the same follows from one chain having one speed (docs/physics.md, "one pitch").

    Examples
    --------
    >>> from witnessmark.engine.drive import Sprocket, Stage, TimingDrive
    >>> from witnessmark.engine.number import Number
    >>> cam = Sprocket("b1.intake", Number.exactly(42))
    >>> stage = Stage("primary", "chain", Sprocket("crank"), (cam,))
    >>> round(pitch_step_deg(TimingDrive((stage,)), stage, "crank"), 3)
    17.143
    """
    if all(sprocket.shaft != shaft for sprocket in stage.sprockets):
        raise EngineDefinitionError(
            f"stage {stage.id} does not run over {shaft}",
            expected=f"one of {', '.join(sprocket.shaft for sprocket in stage.sprockets)}",
        )
    ratios = shaft_ratios(drive)
    own = stage.sprocket_on(shaft).teeth.exact
    if own is not None and shaft in ratios:
        return float(step_deg(own, ratios[shaft]))
    speed = _chain_speed(stage, ratios)
    return None if speed is None else 360.0 / speed


def mesh_steps_deg(drive: TimingDrive) -> Mapping[str, float | None]:
    """Crank degrees of one pitch at every mesh of a drive.

    Parameters
    ----------
    drive : TimingDrive

    Returns
    -------
    mapping of str to float [deg] or None
        By mesh id ("primary.b1.intake"); None where no exact tooth count settles it.

    Notes
    -----
    Follows from :func:`pitch_step_deg` (docs/physics.md, "one pitch").

    Examples
    --------
    >>> from witnessmark.engine.drive import Sprocket, Stage, TimingDrive
    >>> from witnessmark.engine.number import Number
    >>> cam = Sprocket("b1.single", Number.exactly(48))
    >>> stage = Stage("belt", "belt", Sprocket("crank", Number.exactly(24)), (cam,))
    >>> dict(mesh_steps_deg(TimingDrive((stage,))))
    {'belt.crank': 15.0, 'belt.b1.single': 15.0}
    """
    return {stage.mesh(s.shaft): pitch_step_deg(drive, stage, s.shaft) for stage, s in drive.meshes()}
