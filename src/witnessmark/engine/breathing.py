"""What a description says of cylinders, valves and air: sizes and timing, each as far as it is known."""

from __future__ import annotations

from dataclasses import dataclass, field

from witnessmark.engine.number import ABSENT, Number

__all__ = ["AirPath", "Breathing", "CylinderSizes", "ValveTiming"]


@dataclass(frozen=True, slots=True)
class CylinderSizes:
    """Sizes of one cylinder, all cylinders alike.

    Parameters
    ----------
    bore_mm, stroke_mm, rod_mm : Number [mm]
        The rod from eye to eye.
    compression_ratio : Number [-]
    pin_offset_mm : Number [mm]
        Positive towards the thrust side.
    displacement_l : Number [L]
        Of the whole engine: what is on its badge.
    """

    bore_mm: Number = ABSENT
    stroke_mm: Number = ABSENT
    rod_mm: Number = ABSENT
    compression_ratio: Number = ABSENT
    pin_offset_mm: Number = ABSENT
    displacement_l: Number = ABSENT


@dataclass(frozen=True, slots=True)
class ValveTiming:
    """The intake or the exhaust valves of every cylinder, at rest.

    Parameters
    ----------
    kind : str
        "intake" or "exhaust".
    opens_before_deg : Number [deg]
        Intake: before gas-exchange TDC; exhaust: before BDC. Negative: after it.
    shuts_after_deg : Number [deg]
        Intake: after BDC; exhaust: after gas-exchange TDC.
    at_lift_mm : Number [mm]
        Lift at which the two angles are counted; absent: not said.
    lift_mm : Number [mm]
        Greatest.
    diameter_mm : Number [mm]
        Of one head.
    count : Number [-]
        In each cylinder.
    """

    kind: str
    opens_before_deg: Number = ABSENT
    shuts_after_deg: Number = ABSENT
    at_lift_mm: Number = ABSENT
    lift_mm: Number = ABSENT
    diameter_mm: Number = ABSENT
    count: Number = ABSENT


@dataclass(frozen=True, slots=True)
class AirPath:
    """How the engine gets and measures its air, and where the fuel comes in.

    Parameters
    ----------
    metering : str, optional
        "air_meter", "speed_density" or "both"; None where not said.
    injection : str, optional
        "port", "direct" or "single_point".
    boost : str, optional
        "none", "turbo" or "mechanical".
    plenum_l, runner_l : Number [L]
        Of the plenum, and of one runner.
    throttle_mm : Number [mm]
        Bore of its body.
    """

    metering: str | None = None
    injection: str | None = None
    boost: str | None = None
    plenum_l: Number = ABSENT
    runner_l: Number = ABSENT
    throttle_mm: Number = ABSENT


@dataclass(frozen=True, slots=True)
class Breathing:
    """Cylinders, valves and air together.

    Parameters
    ----------
    cylinder : CylinderSizes
    valves : tuple of ValveTiming
        At most one of each kind.
    air : AirPath
    """

    cylinder: CylinderSizes = field(default_factory=CylinderSizes)
    valves: tuple[ValveTiming, ...] = ()
    air: AirPath = field(default_factory=AirPath)

    def valve(self, kind: str) -> ValveTiming:
        """Timing of one kind of valve; all absent where nothing is said.

        Parameters
        ----------
        kind : str
            "intake" or "exhaust".

        Returns
        -------
        ValveTiming
        """
        return next((one for one in self.valves if one.kind == kind), ValveTiming(kind))
