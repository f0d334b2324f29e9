"""Recording and engine description in, findings out."""

from witnessmark.measure.cams import CamSeen
from witnessmark.measure.change import change_between, phase_changes
from witnessmark.measure.course import SpeedCourse
from witnessmark.measure.measurement import CamEdgeSeen, DrawnChannel, Measurement
from witnessmark.measure.run import measure

__all__ = [
    "CamEdgeSeen",
    "CamSeen",
    "DrawnChannel",
    "Measurement",
    "SpeedCourse",
    "change_between",
    "measure",
    "phase_changes",
]
