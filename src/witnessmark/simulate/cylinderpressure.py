"""The pressure trace of one cylinder beside the crank signal: cranking, at idle without its spark, or fired."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from witnessmark.engine.drive import CRANK
from witnessmark.simulate.bench import Bench, BenchCapture, Setup, capture_of, engine_run, window_of
from witnessmark.simulate.disturb import spark_ringing
from witnessmark.simulate.draws import stream
from witnessmark.simulate.probes import probed
from witnessmark.simulate.pulsation import with_waves
from witnessmark.simulate.reference import wheel_signal
from witnessmark.simulate.sampling import Signal
from witnessmark.simulate.transducer import Transducer, draw_transducer, sensed_kpa

__all__ = ["cylinder_pressure"]

_FULL_KPA = {"cranking": 3500.0, "idle": 3500.0, "raised": 3500.0, "snap": 5000.0}
_FIRED_FULL_KPA = 7000.0
_SPARK_KPA = 12.0  # of the first swing that an ignition spark couples into the lead, per volt of disturbance


def cylinder_pressure(
    bench: Bench, setup: Setup, seed: int, *, fired: bool = False, transducer: Transducer | None = None
) -> BenchCapture:
    """A cylinder's pressure, absolute, beside the crank sensor.

    Parameters
    ----------
    bench : Bench
    setup : Setup
    seed : int
    fired : bool
        With its spark; the transducer then sits in a plug made for it, without a tube.
    transducer : Transducer, optional
        Drawn where left out.

    Returns
    -------
    BenchCapture
        Truth: "pressure" [kPa], absolute, and "crank" [deg] after firing top dead centre, at the samples.
    """
    rng = stream(seed, "transducer")
    full = _FIRED_FULL_KPA if fired else _FULL_KPA[setup.running]
    one = transducer or draw_transducer(rng, full_scale_kpa=full)
    if fired and transducer is None:
        one = _in_the_plug(one)
    silent = () if fired else (setup.cylinder,)
    run = engine_run(bench, setup, seed, silent=silent, adaptors_m3={setup.cylinder: one.added_m3})
    sampling = window_of(run, setup, seed)
    step, times = setup.scope.step_s, sampling.times_s()
    true = with_waves(run, setup.cylinder, times, step, bench.seed)
    shown = sensed_kpa(one, true, step)
    shown = shown + _SPARK_KPA * spark_ringing(
        times, np.array([s.at_s for s in run.sparks]), setup.disturbances.sparks_v, rng
    )
    pressure = Signal(
        f"cylinder {setup.cylinder} pressure", "cylinder_pressure", probed(shown, step, one.probe, rng), one.probe
    )
    crank = wheel_signal(run, CRANK, sampling, setup.disturbances, state=setup.running, column=1, seed=seed)
    angle = np.interp(times, run.motion.times_s, run.motion.crank_deg) - run.breather.tops_deg[setup.cylinder]
    truth = {"pressure": true[sampling.lead :] / 1e3, "crank": angle[sampling.lead :]}
    effects: tuple[str, ...] = (
        "valve_train",
        "wall_heat",
        "oil_film",
        "waves",
        "adaptor_volume",
        "tube_ringing",
        "transducer_drift",
    )
    if run.combustion is not None:
        effects = (*effects, "burning")
    test = "incylinder_crank" if setup.running == "cranking" else "incylinder_fired" if fired else "incylinder_run"
    return capture_of(
        [pressure, crank], run, sampling, setup, bench, test=test, seed=seed, truth=truth, effects=effects
    )


def _in_the_plug(one: Transducer) -> Transducer:
    return replace(one, tube_m=0.02, volume_cm3=0.1)
