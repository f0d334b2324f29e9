"""What loads of a supply graph are called, so that whoever asks about a part finds its node.

===============================================  ===================================================================
``coil_1``, ``injector_1`` …                     of each cylinder
``oil_valve_b1_intake``, ``cam_b1_intake``       oil valve and position sensor of a cam: its id with "_" for the point
``o2_front_1``, ``o2_rear_1`` …                  oxygen sensors of each bank
``crank``, ``map``, ``maf``, ``ect``, ``iat``,   sensors
``throttle_sensor``, ``pedal``, ``rail``, ``boost``
``ecu``, ``gearbox``                             modules
``pump``, ``high_pump``, ``purge``, ``egr``,     actuators, and what turns with the engine
``wastegate``, ``regulator``, ``starter``,
``alternator``
===============================================  ===================================================================

Ids with a point are pins: of a connector ("c9.3") or of a module ("ecu.31").
"""

from __future__ import annotations

import re

__all__ = ["CAM_PARTS", "CYLINDER_PARTS", "cam_node", "cam_of_node", "cylinder_of_node", "sensor_node"]

CYLINDER_PARTS = ("coil", "injector")
"""Parts that every cylinder has."""

CAM_PARTS = ("oil_valve", "cam")
"""Parts that a cam may have."""

_SENSORS = {
    "engine_speed": "crank",
    "map": "map",
    "maf": "maf",
    "throttle": "throttle_sensor",
    "pedal": "pedal",
    "coolant": "ect",
    "intake_air": "iat",
    "rail_pressure": "rail",
}
_OWN_NAME = ("vehicle_speed", "outside_air", "oil_temperature", "oil_pressure", "fuel_pressure", "fuel_level")
_OXYGEN = ("o2_voltage", "o2_current", "lambda")

_CYLINDER = re.compile(rf"(?:{'|'.join(CYLINDER_PARTS)})_(\d+)")
_CAM = re.compile(rf"(?:{'|'.join(CAM_PARTS)})_(b\d+)_([a-z]+)")


def cam_node(part: str, cam: str) -> str:
    """The node of a cam's part.

    Parameters
    ----------
    part : str
        One of :data:`CAM_PARTS`.
    cam : str
        Cam id: "b1.intake".

    Returns
    -------
    str
        "oil_valve_b1_intake".
    """
    return f"{part}_{cam.replace('.', '_')}"


def cam_of_node(node: str) -> str | None:
    """The cam that a node belongs to, by its id; None where it is no cam's.

    Parameters
    ----------
    node : str

    Returns
    -------
    str or None
        "b1.intake".
    """
    match = _CAM.fullmatch(node)
    return f"{match[1]}.{match[2]}" if match else None


def cylinder_of_node(node: str) -> int | None:
    """The cylinder that a node belongs to, by its id; None where it is no cylinder's.

    Parameters
    ----------
    node : str

    Returns
    -------
    int or None
    """
    match = _CYLINDER.fullmatch(node)
    return int(match[1]) if match else None


def sensor_node(parameter: str, *, bank: int | None = None, sensor: int | None = None, cam: str | None = None) -> str:
    """The node of the sensor that a logged parameter is read from.

    Parameters
    ----------
    parameter : str
        Of the list in ``data/parameters.toml``.
    bank, sensor : int, optional
        The sensor counts along the exhaust: the first is the front one.
    cam : str, optional
        "intake", "exhaust" or "single".

    Returns
    -------
    str
        Empty where no single sensor stands behind it: what is computed (load, trims), what is measured inside the
        module (its voltage, the barometer), and cams that only go by a letter.

    Examples
    --------
    >>> sensor_node("coolant"), sensor_node("lambda", bank=2, sensor=1), sensor_node("load")
    ('ect', 'o2_front_2', '')
    """
    if parameter in _OXYGEN and bank is not None and sensor is not None:
        return f"o2_{'front' if sensor == 1 else 'rear'}_{bank}" if sensor <= 2 else ""
    if parameter == "cam_actual" and bank is not None and cam in ("intake", "exhaust", "single"):
        return cam_node("cam", f"b{bank}.{cam}")
    return _SENSORS.get(parameter, parameter if parameter in _OWN_NAME else "")
