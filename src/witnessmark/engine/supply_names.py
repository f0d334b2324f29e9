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

__all__ = ["CAM_PARTS", "CYLINDER_PARTS", "cam_node", "cam_of_node", "cylinder_of_node"]

CYLINDER_PARTS = ("coil", "injector")
"""Parts that every cylinder has."""

CAM_PARTS = ("oil_valve", "cam")
"""Parts that a cam may have."""

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
