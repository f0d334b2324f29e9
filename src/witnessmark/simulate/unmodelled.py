"""What the simulated engine and instruments do beyond what measuring and predicting assume, by name.

Each capture says which of it is in it. A truth found again in spite of it means something.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["UNMODELLED"]

UNMODELLED: Mapping[str, str] = {
    # crank and cam sensors
    "cutting": "every tooth of every wheel stands a little off its place, and each wheel a little off centre",
    "cam_swing": "the valve springs swing each cam once per lobe: its edges stand off its mean phase by a fixed amount",
    "cam_restless": "each firing moves the cam a little differently",
    "sensor_lag": "each sensor answers some microseconds late, one more than the other",
    "flux": "the edges of the other kind come early or late beside a gap",
    "ripple": "speed changes within a tooth gap: time is not shared evenly over angle",
    "hunting": "a phaser held off its stop hunts slowly about its place",
    # instruments
    "clock": "the instrument's clock runs a little fast or slow",
    "pull_up": "a switched signal rises more slowly than it falls",
    "skew": "the converter takes its channels one after the other and notes one time for all",
    "drift": "the zero of a channel wanders, and mains hum rides on it",
    "clipping": "the converter's range cuts the peaks",
    "strays": "stray pulses, teeth without a trace, loose terminals, ignition ringing",
    "clamp": "a clamp has a gain and a zero of its own and does not follow what is quick",
    # gas
    "valve_train": "the lift law and the flow of the valves are this vehicle's own, not those taken for granted",
    "wall_heat": "heat to the walls follows this vehicle's own law, and differs from cycle to cycle",
    "oil_film": "what passes the rings differs from cycle to cycle",
    "waves": "the gas swings in runners and pipes while a valve is open",
    "adaptor_volume": "the adaptor's room lowers the compression of the cylinder it sits in",
    "tube_ringing": "the gas in the adaptor's tube lags and rings",
    "transducer_drift": "the transducer's zero is off, drifts as it warms, and hot gas makes it read low behind a peak",
    "burning": "no two charges burn alike",
    # starting and electrics
    "brushes": "the starter's brushes drop a volt of their own, and its commutator ripples the current",
    "polarisation": "the battery sags further while it is loaded",
    "winding_lag": "a winding keeps its current for some milliseconds",
    "saturation": "a coil's iron saturates: its ramp bends upward",
    "eddy": "eddy currents round the kink that a moving needle makes",
    "uneven_bars": "a pump's commutator has bars that differ",
    "turbulence": "the flow in the gap makes the spark's voltage climb and flicker",
    "pickup": "a pick-up's gain depends on how it sits",
    "belt": "the belt carries the crank's ripple to the alternator, and slips a little",
    "regulator": "the regulator switches the field, and consumers switch on and off",
    # scan logs
    "poll": "values are asked for one after the other and stand in the log at the time of the answer",
    "coarse": "each value is rounded to the step of the standard's scaling",
    "sensor_spread": "sensors lag and scatter",
    "driver": "nobody holds a pedal still",
    "alive": "idle hunts, air pulses and consumers switch: samples that follow one another are alike",
    "filtered": "the computer smooths some values before it shows them",
    "held": "a row repeats the last answer of a value until there is another",
    "mishaps": "contacts are lost for a moment, values freeze, step or stay away",
}
"""Effects that the measurement model leaves out, by name."""
