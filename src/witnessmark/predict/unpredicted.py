"""Quantities that physics does not reach from the state of an engine, each with the reason."""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["UNPREDICTED"]

UNPREDICTED: Mapping[str, str] = {
    "code_state": "a code is a chance over limits that are themselves unknown: predict.codes gives it",
    "monitor_ran": "whether a monitor ran depends on how the car was driven, not on its state",
    "freeze_value": "the quantity that the frame froze is predicted, under freeze=CODE",
    "o2_crossings": "how often a closed loop swings goes with the maker's setting and the way to the sensor",
    "cam_phase_change": "the difference of two conditions: each is predicted by itself and they are subtracted",
    "signal_frozen": "no variable of the state holds a value still: it is the doing of a module or a bus",
    "speed_measured": "engine_speed says the same where idle is controlled; elsewhere the driver sets it",
}
