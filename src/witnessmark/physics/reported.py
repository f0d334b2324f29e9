"""What a computer and a scope make of a cam's true phase: docs/physics.md, "reported values".

All angles in crank degrees, + = earlier (advanced).
"""

from __future__ import annotations

from witnessmark.physics.chain import Values

__all__ = ["actual_deg", "apparent_phase_deg", "deviation_deg", "true_phase_deg", "true_spark_deg"]


def true_phase_deg(
    *,
    phaser_rest_deg: Values = 0.0,
    phaser_gain: Values = 1.0,
    command_deg: Values = 0.0,
    slipped_deg: Values = 0.0,
    sprocket_slip_deg: Values = 0.0,
    worn_deg: Values = 0.0,
) -> Values:
    """A cam's phase against its described rest position.

    Parameters
    ----------
    phaser_rest_deg : float or array, shape (n,) [deg]
        Where the phaser rests off its stop.
    phaser_gain : float or array, shape (n,) [-]
        Share of the command that the phaser follows.
    command_deg : float or array, shape (n,) [deg]
    slipped_deg : float or array, shape (n,) [deg]
        Sum over the meshes on the cam's way of whole pitches slipped times the step of each.
    sprocket_slip_deg : float or array, shape (n,) [deg]
        Sprockets turned on their shafts, crank and cam.
    worn_deg : float or array, shape (n,) [deg]
        Retard by elongation and worn guides.

    Returns
    -------
    float or array, shape (n,) [deg]

    Notes
    -----
    phaser_rest + phaser_gain × command + Σ pitch_slip × step + sprocket_slip - retard, by definition of the state
    variables (docs/physics.md, "reported values").

    Examples
    --------
    >>> true_phase_deg(slipped_deg=-18.0, worn_deg=2.5)
    -20.5
    """
    return phaser_rest_deg + phaser_gain * command_deg + slipped_deg + sprocket_slip_deg - worn_deg


def apparent_phase_deg(
    true_deg: Values,
    *,
    cam_wheel_slip_deg: Values = 0.0,
    crank_wheel_slip_deg: Values = 0.0,
    sensor_offset_deg: Values = 0.0,
) -> Values:
    """A cam's phase as its edges and the crank's show it.

    Parameters
    ----------
    true_deg : float or array, shape (n,) [deg]
    cam_wheel_slip_deg, crank_wheel_slip_deg : float or array, shape (n,) [deg]
        How far each tone wheel has turned ahead on its shaft.
    sensor_offset_deg : float or array, shape (n,) [deg]
        The cam sensor's, less the crank sensor's.

    Returns
    -------
    float or array, shape (n,) [deg]

    Notes
    -----
    φ + cam-wheel slip - crank-wheel slip + sensor offset, by definition: the crank's wheel is the clock
    (docs/physics.md, "reported values"). All cams late together look the same as the crank wheel early.

    Examples
    --------
    >>> apparent_phase_deg(0.0, crank_wheel_slip_deg=11.0)
    -11.0
    """
    return true_deg + cam_wheel_slip_deg - crank_wheel_slip_deg + sensor_offset_deg


def actual_deg(apparent_deg: Values, *, sign: Values = 1.0, learnt_zero_deg: Values = 0.0) -> Values:
    """The angle that a computer reports for a cam.

    Parameters
    ----------
    apparent_deg : float or array, shape (n,) [deg]
    sign : float or array, shape (n,) [-]
        +1 where the maker's + means advanced, -1 where it means retarded.
    learnt_zero_deg : float or array, shape (n,) [deg]
        The zero it has learnt, + = advanced.

    Returns
    -------
    float or array, shape (n,) [deg]
        In the maker's sign.

    Notes
    -----
    sign · (apparent - learnt zero), by definition (docs/physics.md, "reported values").

    Examples
    --------
    >>> actual_deg(-11.0, sign=-1.0)
    11.0
    """
    return sign * (apparent_deg - learnt_zero_deg)


def deviation_deg(actual: Values, target: Values) -> Values:
    """Actual less target.

    Parameters
    ----------
    actual, target : float or array, shape (n,) [deg]
        Both in the maker's sign.

    Returns
    -------
    float or array, shape (n,) [deg]

    Notes
    -----
    By definition (docs/physics.md, "reported values").

    Examples
    --------
    >>> deviation_deg(9.0, 20.0)
    -11.0
    """
    return actual - target


def true_spark_deg(commanded_deg: Values, crank_wheel_slip_deg: Values) -> Values:
    """Where the spark really comes when the crank wheel has slipped.

    Parameters
    ----------
    commanded_deg : float or array, shape (n,) [deg]
        Before top dead centre.
    crank_wheel_slip_deg : float or array, shape (n,) [deg]
        How far the wheel stands ahead on the shaft.

    Returns
    -------
    float or array, shape (n,) [deg]
        Before top dead centre.

    Notes
    -----
    Commanded + crank-wheel slip, by definition: the spark is timed by the wheel (docs/physics.md, "reported values").

    Examples
    --------
    >>> true_spark_deg(10.0, 11.0)
    21.0
    """
    return commanded_deg + crank_wheel_slip_deg
