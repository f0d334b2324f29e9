"""Assessments made by hand for the tests of the page, the text and the JSON. All of it invented."""

from __future__ import annotations

import math
from dataclasses import replace

from witnessmark.case.assessment import Assessment, DrawnCause, DrawnTrace, EdgeMark, Intake
from witnessmark.engine.drive import CRANK, Phaser, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.types import CamEdge, Camshaft, Engine, Reporting, ToneWheel
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.infer.belief import (
    Assumed,
    Belief,
    Block,
    Expected,
    FaultAt,
    Fit,
    Group,
    Hypothesis,
    ParameterEstimate,
    StepFit,
    Verdict,
    Weight,
)
from witnessmark.plan.types import Outcome, Plan, PlannedStep
from witnessmark.source import Source
from witnessmark.vocabulary import Condition, Place

COUNTED = Source("counted", "counted by us on another of the kind")
HOT_IDLE = Condition(state="idle", speed_rpm=780.0, coolant_c=88.0, phaser="parked", complaint="present")


def exactly(value: float) -> Number:
    return Number.exactly(value, COUNTED)


# ---------------------------------------------------------------- engines


def sprocket(shaft: str, teeth: int | Number | None, pins: int | None = None, keyed: bool | None = None) -> Sprocket:
    count = ABSENT if teeth is None else teeth if isinstance(teeth, Number) else exactly(teeth)
    return Sprocket(shaft, count, keyed=keyed, pins_before=ABSENT if pins is None else exactly(pins))


def in_line_four(*, pins: tuple[int | None, int | None] = (38, 14), teeth: bool = True) -> Engine:
    crank, cam = (20, 40) if teeth else (None, None)
    primary = Stage(
        "primary",
        "chain",
        sprocket(CRANK, crank, keyed=True),
        (sprocket("b1.exhaust", cam, pins[0]), sprocket("b1.intake", cam, pins[1])),
        pitch_mm=exactly(8.0),
    )
    drive = TimingDrive((primary,), "one chain to both cams, intake last")
    edges = {
        "b1.intake": (100.0, 230.0, 420.0, 590.0),
        "b1.exhaust": (60.0, 190.0, 480.0, 650.0),
    }
    wheels = [ToneWheel(CRANK, CRANK, "36-1", reference_deg=exactly(80.0), keyed=False)]
    for cam_name, places in edges.items():
        marks = tuple(CamEdge(rising=i % 2 == 0, after_tdc_deg=exactly(p)) for i, p in enumerate(places))
        wheels.append(ToneWheel(cam_name, cam_name, edges=marks))
    return Engine(
        "alder 2.0",
        4,
        layout="inline",
        banks=1,
        firing_order=(1, 3, 4, 2),
        cams=(Camshaft(1, "intake"), Camshaft(1, "exhaust")),
        drive=drive,
        wheels=tuple(wheels),
        reporting=Reporting(a_is="intake"),
    )


def with_drive(
    stages: tuple[Stage, ...], *, banks: int = 1, cylinders: int = 4, pattern: str | None = "60-2"
) -> Engine:
    shafts = [s.shaft for stage in stages for s in stage.driven if "." in s.shaft]
    cams = tuple(Camshaft(int(name[1]), name.split(".")[1]) for name in shafts)
    wheel = ToneWheel(CRANK, CRANK, pattern)
    return Engine("made up", cylinders, banks=banks, cams=cams, drive=TimingDrive(stages), wheels=(wheel,))


def pushrod_six() -> Engine:
    stage = Stage("primary", "chain", sprocket(CRANK, 22, keyed=True), (sprocket("b1.single", 44, keyed=True),))
    return with_drive((stage,), cylinders=6)


def belt_three() -> Engine:
    driven = (sprocket("b1.exhaust", 48), sprocket("b1.intake", 48))
    return with_drive((Stage("primary", "belt", sprocket(CRANK, 24), driven),), cylinders=3, pattern="36-2")


def idler_four() -> Engine:
    primary = Stage("primary", "chain", sprocket(CRANK, 24), (sprocket("idler", 36),))
    driven = (sprocket("b1.exhaust", 42), sprocket("b1.intake", 42, 9))
    secondary = Stage("secondary", "chain", sprocket("idler", 28), driven)
    return with_drive((primary, secondary))


def cam_to_cam() -> Engine:
    primary = Stage("primary", "chain", sprocket(CRANK, 21), (sprocket("b1.exhaust", 42, 40),))
    link = Stage("link", "chain", sprocket("b1.exhaust", 24), (sprocket("b1.intake", 24, 12),))
    return with_drive((primary, link))


def two_banks() -> Engine:
    primary = Stage("primary", "chain", sprocket(CRANK, 22), (sprocket("idler_1", 33), sprocket("idler_2", 33)))
    right = Stage(
        "secondary_1", "chain", sprocket("idler_1", 24), (sprocket("b1.exhaust", 36), sprocket("b1.intake", 36))
    )
    left = Stage(
        "secondary_2", "chain", sprocket("idler_2", 24), (sprocket("b2.intake", 36), sprocket("b2.exhaust", 36))
    )
    return with_drive((primary, right, left), banks=2, cylinders=6)


def two_bank_links() -> Engine:
    primary = Stage("primary", "chain", sprocket(CRANK, 20), (sprocket("b1.intake", 40), sprocket("b2.intake", 40)))
    link_1 = Stage("link_1", "chain", sprocket("b1.intake", 26), (sprocket("b1.exhaust", 26),))
    link_2 = Stage("link_2", "chain", sprocket("b2.intake", 26), (sprocket("b2.exhaust", 26),))
    return with_drive((primary, link_1, link_2), banks=2, cylinders=6)


def belt_to_four_cams() -> Engine:
    driven = tuple(sprocket(name, 48) for name in ("b1.exhaust", "b1.intake", "b2.intake", "b2.exhaust"))
    return with_drive((Stage("primary", "belt", sprocket(CRANK, 24), driven),), banks=2, cylinders=6)


def single_cam_each_bank() -> Engine:
    driven = (sprocket("b1.single", None), sprocket("b2.single", Number.among([38, 40])))
    return with_drive((Stage("primary", "chain", sprocket(CRANK, None), driven),), banks=2, cylinders=8, pattern=None)


def geared() -> Engine:
    return with_drive((Stage("primary", "gear", sprocket(CRANK, 26), (sprocket("b1.single", 52),)),), cylinders=2)


def chain_for_each_bank() -> Engine:
    stages = tuple(
        Stage(f"bank_{b}", "chain", sprocket(CRANK, 20), (sprocket(f"b{b}.exhaust", 40), sprocket(f"b{b}.intake", 40)))
        for b in (1, 2)
    )
    return with_drive(stages, banks=2)


def with_pump() -> Engine:
    primary = Stage(
        "primary",
        "belt",
        sprocket(CRANK, 22),
        (sprocket("b1.exhaust", 44), sprocket("b1.intake", 44), sprocket("water_pump", 20)),
    )
    pump = Stage("oil_pump", "chain", sprocket(CRANK, 20), (sprocket("oil_pump", 26),))
    return with_drive((primary, pump))


def described_in_mm() -> Engine:
    def at(shaft: str, teeth: int, x: float, y: float) -> Sprocket:
        return replace(sprocket(shaft, teeth), at_mm=(x, y))

    stage = Stage(
        "primary",
        "chain",
        at(CRANK, 21, 0.0, 0.0),
        (at("b1.exhaust", 42, 88.0, 350.0), at("b1.intake", 42, -88.0, 350.0)),
        pitch_mm=exactly(8.0),
    )
    return with_drive((stage,))


ENGINES = {
    "in-line four": in_line_four,
    "teeth not known": lambda: in_line_four(pins=(None, None), teeth=False),
    "pushrod six": pushrod_six,
    "belt three": belt_three,
    "idler": idler_four,
    "cam to cam": cam_to_cam,
    "two banks": two_banks,
    "two banks, links": two_bank_links,
    "belt to four cams": belt_to_four_cams,
    "single cam each bank": single_cam_each_bank,
    "gears": geared,
    "chain for each bank": chain_for_each_bank,
    "with pumps": with_pump,
    "described in mm": described_in_mm,
}


def drawn_for(engine: Engine) -> tuple[DrawnCause, ...]:
    """Causes that move everything there is to move, for tests of the drawing."""
    assert engine.drive is not None
    cams = [cam.id for cam in engine.cams]
    return (
        DrawnCause(
            "h1",
            "Crank wheel slipped",
            (),
            (("crank", 10.9, 0.8),),
            "Every sprocket mark in its place. Only the wheel’s gap stands 11° ahead.",
        ),
        DrawnCause(
            "h2",
            "Chain worn",
            tuple((c, -4.7 - 1.6 * k, 0.5) for k, c in enumerate(cams)),
            (),
            "All cam marks behind, the last on the chain the most.",
        ),
        DrawnCause("h3", "Jumped a tooth", tuple((c, -9.0, 0.0) for c in cams), (), "All cam marks one tooth behind."),
        DrawnCause(
            "h4",
            "Cam wheel slipped",
            (),
            ((cams[0], 7.5, 1.0),),
            "All sprocket marks in place. The wheel of one cam stands ahead.",
        ),
        DrawnCause("healthy", "Everything in its place", (), (), "Nothing has moved."),
    )


# ---------------------------------------------------------------- findings


def deviation(cam: str, value: float, *, bank: int = 1, condition: Condition = HOT_IDLE) -> Finding:
    place = Place.of(bank=bank, cam=cam)
    typed = Provenance("typed", text=f"cam_deviation bank={bank} cam={cam} {value:g}")
    return Finding("cam_deviation", place, value, 1.0, condition, typed, "read off the vehicle’s own screen")


def code(name: str) -> Finding:
    return Finding(
        "code_state", Place.of(code=name), 1.0, 0.02, Condition(state="key_on"), Provenance("code", text=name)
    )


def measured(quantity: str, value: float, sd: float, *, condition: Condition = HOT_IDLE, **place: str | int) -> Finding:
    source = Provenance("recording", digest="sha256:" + "5e" * 32, trace="cam_in", from_s=1.2, to_s=14.9)
    return Finding(
        quantity,
        Place.of(**place),
        value,
        sd,
        condition,
        source,
        "edges, mean of 97 cycles",
        ("wheel of 35 teeth and one gap",),
    )


def numbered(*findings: Finding) -> tuple[Finding, ...]:
    return tuple(finding.with_id(f"f{i}") for i, finding in enumerate(findings, start=1))


# ---------------------------------------------------------------- belief


def weight(leader: Hypothesis, rival: Hypothesis, *blocks: Block) -> Weight:
    posterior = 10.0 * math.log10(leader.probability / rival.probability)
    return Weight(leader.id, rival.id, posterior - sum(b.decibans for b in blocks), blocks, posterior)


def fault(name: str, place: tuple[str, str], words: str, variable: str, value: float, sd: float, unit: str) -> FaultAt:
    return FaultAt(name, (place,), (ParameterEstimate(variable, value, sd, unit),), words)


def slipped_wheel(p: float, name: str = "h1") -> Hypothesis:
    words = "crank wheel slipped on its shaft"
    also = (
        Expected("tdc_offset", Place.of(), Condition(state="cranking"), 10.9, 0.9, "deg"),
        Expected("wheel_angle_seen", Place.of(wheel="crank"), Condition(state="off"), 10.9, 1.1, "deg"),
    )
    at = fault("wheel_slipped", ("wheel", "crank"), words, "wheel_slip", 10.9, 0.8, "deg")
    return Hypothesis(name, (at,), p, 0.004, -8.1, words, also)


def worn_chain(p: float, name: str = "h2") -> Hypothesis:
    words = "timing chain worn longer"
    also = (Expected("tensioner_extension", Place.of(chain="primary"), Condition(state="off"), 9.4, 2.0, "mm"),)
    at = fault("chain_worn", ("chain", "primary"), words, "elongation", 1.2, 0.2, "%")
    return Hypothesis(name, (at,), p, 0.014, -9.6, words, also)


def jumped_chain(p: float, name: str = "h3") -> Hypothesis:
    words = "timing chain jumped at the crank"
    at = fault("chain_jumped", ("mesh", "primary.crank"), words, "pitch_slip", -1.0, 0.0, "pitch")
    return Hypothesis(name, (at,), p, 0.006, -11.9, words)


def stale_zero(p: float, name: str = "h4") -> Hypothesis:
    words = "learnt zero of all cams stale"
    at = fault("not_relearnt", ("learnt_item", "cam_zero"), words, "learnt_error", 10.8, 1.0, "deg")
    return Hypothesis(name, (at,), p, 0.005, -14.4, words)


def specials(nothing_wrong: float, elsewhere: float, none_of_these: float) -> tuple[Hypothesis, ...]:
    return (
        Hypothesis("none_of_these", (), none_of_these, 0.06, -13.0, "something is wrong, and nothing listed fits"),
        Hypothesis(
            "elsewhere", (), elsewhere, 0.6, -15.0, "the complaint is real, its cause outside what was looked at"
        ),
        Hypothesis("nothing_wrong", (), nothing_wrong, 0.03, -18.0, "everything looked at is as it should be"),
    )


def ranked(*hypotheses: Hypothesis) -> tuple[Hypothesis, ...]:
    return tuple(sorted(hypotheses, key=lambda h: -h.probability))


def minor_causes(total: float, count: int = 31) -> tuple[Hypothesis, ...]:
    share = total / count
    return tuple(Hypothesis(f"h{5 + i}", (), share, 0.001, -13.0, f"lesser cause number {i + 1}") for i in range(count))


RENEW = "renew the timing chain, its guides and tensioner, and time it"
REFIT = "refit or renew the crank wheel, seated and with a new bolt"


def undecided_belief(with_recording: bool) -> Belief:
    """The crank wheel leads, a worn chain is near."""
    h1, h2, h3, h4 = slipped_wheel(0.738), worn_chain(0.12), jumped_chain(0.04), stale_zero(0.004)
    rest = minor_causes(0.046)
    others = specials(0.002, 0.02, 0.03)
    cams = ("f5", "f6") if with_recording else ("f1", "f2")
    worn = weight(
        h1,
        h2,
        Block((), 6.0, "It began with work at the very place where the wheel sits"),
        Block(cams, 5.4, "Both cams are late alike: 0.3° ± 0.3° apart"),
        Block(cams, 2.6, "11° is a great deal for wear: the chain would be 13 mm too long"),
    )
    jumped = weight(
        h1,
        h3,
        Block(cams, 11.3, "One tooth here is 18°. 11° is not a tooth, and wear would add to it"),
        Block((), 2.4, "It began with work at the very place where the wheel sits"),
        Block(("f3", "f4"), 0.2, "Both codes are set"),
    )
    zero = weight(
        h1,
        h4,
        Block(cams, 19.4, "The recording shows the same 11°, and knows nothing of what the computer has learnt"),
        Block(("f1", "f2"), 0.6, "Both cams read alike"),
        Block((), 1.4, "It began with work at the very place where the wheel sits"),
    )
    groups = (
        Group("g1", "wheel", REFIT, ("h1",), 0.738, (60.0, 180.0, 420.0), 0.95),
        Group("g2", "chain_set", RENEW, ("h2", "h3"), 0.16, (180.0, 420.0, 840.0), 0.95),
        Group("g3", "relearn", "relearn the cam zeros", ("h4",), 0.004, (5.0, 15.0, 40.0), 0.93),
    )
    fit = [Fit("f1", -10.9, 1.3, -0.1), Fit("f2", -10.9, 1.3, -0.1)]
    if with_recording:
        fit += [
            Fit("f5", -10.9, 0.9, -0.2),
            Fit("f6", -10.9, 0.9, 0.1),
            Fit("f7", 0.0, 1.4, -0.2),
            Fit("f8", 0.0, 0.5, 0.2),
        ]
    assumed = (
        Assumed("reporting.sign", "+ means early, 3 to 1", 0.1, "which sign this maker gives to late"),
        Assumed("drive.sprocket.crank.teeth", "17 to 26, most likely 20 or 21", 0.6, "teeth of the crank sprocket"),
        Assumed("drive.primary.tight_mm", "310 to 390 mm, even odds", 0.2, "length of chain on the tight side"),
        Assumed("reporting.a_is", "A is the intake cam, 6 to 1", 0.01, "which cam is A"),
    )
    return Belief(
        hypotheses=ranked(h1, h2, h3, h4, *rest, *others),
        groups=groups,
        verdict=Verdict(
            "cannot_tell", None, (), "No one repair reaches 90 %: the crank wheel and the chain are both open"
        ),
        weights=(worn, jumped, zero),
        fit=tuple(fit),
        assumed=assumed,
        notes=("The order stands if any one starting chance is three times as large, or a third.",),
    )


def with_steps(belief: Belief, reading_deg: float = -11.0, sd: float = 1.0) -> Belief:
    """The same with how well whole teeth fit for every crank tooth count from 17 to 26."""
    fits = []
    for teeth in range(17, 27):
        step = 360.0 / teeth
        pitches = round(reading_deg / step) or -1
        left = reading_deg - pitches * step
        spread = math.hypot(sd, 1.2)
        z = left / spread
        fits.append((teeth, pitches, step, left, z, math.exp(-0.5 * z * z)))
    total = sum(f[-1] for f in fits)
    steps = tuple(StepFit("timing chain", f"crank {t}", k, s, r, z, w / total) for t, k, s, r, z, w in fits)
    best = sorted(steps, key=lambda s: -s.probability)
    chosen, mass = [], 0.0
    for fit in best:
        if mass >= 0.9:
            break
        chosen.append(fit.teeth)
        mass += fit.probability
    return replace(belief, steps=tuple(best), step_set=tuple(chosen), step_mass=mass)


def pressure_trace() -> PlannedStep:
    return PlannedStep(
        test="incylinder_crank",
        words="Take a pressure trace in cylinder 1 while cranking, with the crank signal beside it",
        minutes=(18.0, 25.0, 40.0),
        teardown=("engine cover", "coil and plug of cylinder 1"),
        needs=("a scope", "a pressure transducer with adaptor"),
        tells_bits=0.8,
        minutes_to_proof=275.0,
        hazards=(
            "Fuel and spark off. A coil taken off may still give a shock that kills, above all with an implant.",
            "Check the adaptor’s depth: no piston or valve may touch it.",
            "Hands, hair, leads and sleeves clear of belts and fans.",
        ),
        outcomes=(
            Outcome(
                "true TDC 9° to 13° after the wheel’s",
                0.76,
                "The crank wheel has slipped, 97 %. Ask for leave to open the lower cover.",
                "g1",
            ),
            Outcome(
                "true TDC within 2° of the wheel’s",
                0.21,
                "The wheel is right, the cams are late. Look at the tensioner next, 15 minutes.",
                "g2",
            ),
            Outcome(
                "true TDC anywhere else",
                0.03,
                "Two faults, or none of these. Order nothing; count pins first.",
                "none_of_these",
            ),
        ),
    )


def plan() -> Plan:
    first = pressure_trace()
    look = replace(
        first,
        test="wheel_on_shaft",
        words="Look at the crank wheel on its shaft, lower cover off",
        minutes=(50.0, 70.0, 120.0),
        teardown=("lower cover", "crank pulley"),
        tells_bits=0.95,
        minutes_to_proof=302.0,
        outcomes=(),
    )
    count = replace(
        look,
        test="pin_count",
        words="Count the pins between the marks and see how far the tensioner stands out",
        minutes=(200.0, 380.0, 700.0),
        teardown=("front cover",),
        tells_bits=0.4,
        minutes_to_proof=520.0,
    )
    chain_now = PlannedStep(
        "chain_set",
        "Renew the timing chain on suspicion",
        (180.0, 420.0, 840.0),
        ("front cover",),
        (),
        0.5,
        655.0,
        (),
        (Outcome("cured", 0.16, "done", "g2"), Outcome("not cured", 0.84, "start again", "g1")),
        kind="repair",
    )
    return Plan((first,), (look, count, chain_now), 275.0, 250.0, 1.6)


# ---------------------------------------------------------------- traces


def traces() -> tuple[tuple[DrawnTrace, ...], tuple[EdgeMark, ...]]:
    crank_changes: list[float] = []
    levels: list[float] = []
    for turn in range(2):
        for k in range(35):
            at = 80.0 + 360.0 * turn + 10.0 * k
            crank_changes += [at % 720.0, (at + 5.0) % 720.0]
            levels += [1.0, 0.0]
    order = sorted(range(len(crank_changes)), key=lambda i: crank_changes[i])
    crank = DrawnTrace("crank", "crank wheel", tuple(crank_changes[i] for i in order), tuple(levels[i] for i in order))
    drawn, edges = [crank], []
    for cam, name, late, finding in (
        ("b1.intake", "intake cam", 11.1, "f5"),
        ("b1.exhaust", "exhaust cam", 10.8, "f6"),
    ):
        wheel = in_line_four().wheel(cam)
        assert wheel is not None
        places = [edge.after_tdc_deg.exact or 0.0 for edge in wheel.edges]
        drawn.append(DrawnTrace(cam, name, tuple(p + late for p in places), (1.0, 0.0, 1.0, 0.0)))
        edges += [EdgeMark(cam, p + late, 0.2, p, 0.9, finding) for p in places[1::2]]
    return tuple(drawn), tuple(edges)


# ---------------------------------------------------------------- assessments


SEAL_CASE = Intake(
    title="Starts badly since the front crank seal was done",
    complaint="Since the front seal was done it turns over a long time before it catches. Cold or warm makes no odds. The lamp came on two days later.",
    vehicle="In-line four, two overhead cams, one chain to both · 187 400 km",
    came_in="12 March",
    complaint_seen=True,
    done=(
        ("16 Feb", "Front crank seal replaced, elsewhere", "Complaint began then"),
        ("24 Feb", "Intake cam sensor replaced, elsewhere", "No change"),
        ("3 March", "Exhaust cam sensor replaced, elsewhere", "No change"),
    ),
)
TDC_MISSING = NotMeasured(
    "tdc_offset",
    Place.of(),
    "Nothing recorded here knows where the piston is; every angle above is counted from the wheel, and the wheel itself is in doubt",
    "a pressure trace in cylinder 1",
)


def seal_case() -> Assessment:
    """The first demonstration case as it came in, with one recording."""
    drawn_traces, edges = traces()
    raised = replace(HOT_IDLE, state="raised", speed_rpm=2500.0, complaint=None)
    findings = numbered(
        deviation("intake", -11.0),
        deviation("exhaust", -11.0),
        code("P0016"),
        code("P0017"),
        measured("cam_phase_error", -11.1, 0.2, bank=1, cam="intake"),
        measured("cam_phase_error", -10.8, 0.2, bank=1, cam="exhaust"),
        measured("cam_separation", -0.3, 0.3, bank=1, cam="intake", other_cam="exhaust"),
        measured("cam_phase_change", 0.1, 0.3, condition=raised, bank=1, cam="intake"),
        measured("speed_measured", 781.0, 4.0),
        measured("wheel_teeth_seen", 35.0, 0.01, wheel="crank"),
    )
    engine = in_line_four()
    return Assessment(
        version="0.1.0",
        made_at="12 March 10:21",
        number=3,
        engine=engine,
        engine_words="in-line four, two overhead cams",
        intake=SEAL_CASE,
        findings=findings,
        not_measured=(TDC_MISSING,),
        belief=undecided_belief(True),
        plan=plan(),
        traces=drawn_traces,
        edges=edges,
        drawn=drawn_for(engine)[:3] + drawn_for(engine)[4:],
    )


def seal_case_closed() -> Assessment:
    """The same with the pressure trace entered: the answer closes."""
    before = seal_case()
    cranking = Condition(state="cranking", complaint="present")
    typed = Provenance("typed", text="tdc_offset state=cranking 10.7 ±0.4")
    offset = Finding("tdc_offset", Place.of(cylinder=1), 10.7, 0.4, cranking, typed, "pressure trace").with_id("f11")
    h1, h2, h3 = slipped_wheel(0.972), worn_chain(0.004), jumped_chain(0.001)
    others = (*minor_causes(0.009, 12), *specials(0.0002, 0.0038, 0.01))
    worn = weight(
        h1,
        h2,
        Block(("f11",), 16.2, "The piston is at TDC 10.7° after the wheel says so"),
        Block(("f5", "f6"), 5.4, "Both cams are late alike"),
        Block((), 6.0, "It began with work where the wheel sits"),
    )
    jumped = weight(
        h1,
        h3,
        Block(("f11",), 16.4, "The piston is at TDC 10.7° after the wheel says so"),
        Block(("f5", "f6"), 11.3, "11° is not a tooth"),
    )
    belief = replace(
        before.belief,
        hypotheses=ranked(h1, h2, h3, *others),
        groups=(
            replace(before.belief.groups[0], probability=0.972),
            replace(before.belief.groups[1], probability=0.005),
        ),
        verdict=Verdict(
            "cause",
            "g1",
            (),
            "The pressure trace shows the piston where the cams say it is, and the wheel 11° ahead of it",
        ),
        weights=(worn, jumped),
        fit=(*before.belief.fit, Fit("f11", 10.8, 0.5, -0.2)),
        assumed=(),
    )
    repair = PlannedStep(
        "wheel",
        "Refit the crank wheel on its shaft, seated, with a new bolt",
        (60.0, 180.0, 420.0),
        ("lower cover", "crank pulley"),
        ("hand tools", "angle gauge", "new crank bolt"),
        0.0,
        205.0,
        (
            "After any work on the drive turn the engine by hand, in running direction, two full turns of the cams before the starter; stop at any resistance.",
        ),
        (
            Outcome(
                "both cams read within 2° of target, and it starts in a second",
                0.95,
                "Cured. Measure both cams again for the proof.",
                "g1",
            ),
            Outcome(
                "anything else",
                0.05,
                "Not the wheel alone. Measure again before anything else is opened.",
                "none_of_these",
            ),
        ),
        kind="repair",
    )
    return replace(
        before,
        number=4,
        made_at="12 March 11:05",
        findings=(*before.findings, offset),
        not_measured=(),
        belief=belief,
        plan=Plan((repair,), (), 205.0, 180.0, 0.1),
    )


def typed_only() -> Assessment:
    """Two readings and two codes, four cylinders, no description and no case."""
    bare = Condition()
    findings = numbered(
        deviation("intake", -11.0, condition=bare),
        deviation("exhaust", -11.0, condition=bare),
        code("P0016"),
        code("P0017"),
    )
    belief = with_steps(undecided_belief(False))
    engine = Engine("4 cylinders", 4)
    missing = (
        NotMeasured(
            "cam_phase_error",
            Place.of(bank=1, cam="intake"),
            "Nothing was recorded",
            "a recording of crank and cam together, twenty cycles",
        ),
        NotMeasured(
            "cam_phase_error",
            Place.of(bank=1, cam="exhaust"),
            "Nothing was recorded",
            "a recording of crank and cam together, twenty cycles",
        ),
        TDC_MISSING,
    )
    return Assessment(
        "0.1.0",
        "2026-03-12 10:21",
        1,
        engine,
        "4 cylinders, nothing else described",
        Intake(),
        findings,
        missing,
        belief,
        plan(),
    )


def cleared() -> Assessment:
    """A clean drive on a complaining vehicle."""
    drawn_traces, _ = traces()
    drawn_traces = (
        drawn_traces[0],
        *(replace(t, changes_deg=tuple(a - 11.0 for a in t.changes_deg)) for t in drawn_traces[1:]),
    )
    edges = tuple(
        EdgeMark(cam, p + 0.2, 0.2, p, 0.9, f)
        for cam, f, p in (("b1.intake", "f1", 230.0), ("b1.exhaust", "f2", 190.0))
    )
    findings = numbered(
        measured("cam_phase_error", -0.2, 0.2, bank=1, cam="intake"),
        measured("cam_phase_error", 0.3, 0.2, bank=1, cam="exhaust"),
        measured("cam_separation", -0.5, 0.3, bank=1, cam="intake", other_cam="exhaust"),
    )
    elsewhere = Hypothesis(
        "elsewhere", (), 0.93, 0.6, -4.0, "the complaint is real, its cause outside what was looked at"
    )
    h1, h2 = worn_chain(0.021, "h1"), slipped_wheel(0.006, "h2")
    others = specials(0.018, 0.0, 0.009)
    rest = minor_causes(0.016, 9)
    against = [
        weight(elsewhere, h1, Block(("f1", "f2"), 8.4, "Neither cam is late")),
        weight(elsewhere, h2, Block(("f1", "f2"), 14.2, "Both cams stand where the wheel says they should")),
    ]
    belief = Belief(
        ranked(elsewhere, h1, h2, others[0], others[2], *rest),
        (Group("g1", "chain_set", RENEW, ("h1",), 0.021, (180.0, 420.0, 840.0), 0.95),),
        Verdict(
            "cleared",
            None,
            ("timing_drive",),
            "Every cam stands within 1° of where it belongs, with the complaint present; look at fuel, air and spark",
        ),
        tuple(against),
        (Fit("f1", 0.0, 0.9, -0.2), Fit("f2", 0.0, 0.9, 0.3), Fit("f3", 0.0, 1.4, -0.4)),
        (),
    )
    intake = Intake(
        "Cuts out when warm", "It just dies at the lights when it is hot.", "In-line four", "14 March", True
    )
    engine = in_line_four()
    return Assessment(
        "0.1.0",
        "14 March 9:10",
        1,
        engine,
        "in-line four",
        intake,
        findings,
        (),
        belief,
        Plan((), (), 0.0, 0.0, 0.4),
        drawn_traces,
        edges,
        drawn_for(engine)[4:],
    )


def two_bank_case() -> Assessment:
    """One bank late on a two-bank engine; no case, a recording with four cams and nothing described to hold it against."""
    engine = two_banks()
    findings = numbered(
        *(
            deviation(cam, value, bank=bank)
            for bank, cam, value in (
                (1, "intake", -0.5),
                (1, "exhaust", 0.0),
                (2, "intake", -16.0),
                (2, "exhaust", -17.0),
            )
        ),
        code("P0018"),
        measured("cam_separation", -16.2, 0.3, bank=2, cam="intake", other_cam="intake", other_bank=1),
        measured("cam_edge_angle", 123.4, 0.2, bank=1, cam="intake", edge="1"),
    )
    words = "secondary 2 chain jumped at the idler 2"
    h1 = Hypothesis(
        "h1",
        (fault("chain_jumped", ("mesh", "secondary_2.idler_2"), words, "pitch_slip", -1.0, 0.0, "pitch"),),
        0.93,
        0.006,
        -6.0,
        words,
    )
    h2 = Hypothesis(
        "h2",
        (fault("chain_worn", ("chain", "secondary_2"), "secondary 2 chain worn longer", "elongation", 0.9, 0.2, "%"),),
        0.03,
        0.01,
        -9.0,
        "secondary 2 chain worn longer",
    )
    belief = Belief(
        ranked(h1, h2, *specials(0.001, 0.004, 0.015), *minor_causes(0.02, 40)),
        (
            Group(
                "g1",
                "chain_set",
                "renew the secondary 2 chain, its guides and tensioner, and time it",
                ("h1", "h2"),
                0.96,
                (180.0, 420.0, 840.0),
                0.95,
            ),
        ),
        Verdict(
            "cause", "g1", (), "Both cams of bank 2 are late alike by one pitch of their chain; bank 1 stands right"
        ),
        (
            weight(
                h1,
                h2,
                Block(("f3", "f4"), 9.2, "16.4° is one pitch of that chain"),
                Block(("f1", "f2"), 2.0, "Bank 1 stands right"),
            ),
        ),
        (Fit("f3", -16.4, 1.2, 0.3), Fit("f4", -16.4, 1.2, -0.5), Fit("f6", -16.4, 1.2, 0.2)),
        (),
    )
    cams = ("b1.intake", "b1.exhaust", "b2.intake", "b2.exhaust")
    recorded = tuple(
        DrawnTrace(c, "", tuple(sorted((60.0 + 90 * k + 180 * j) % 720 for j in range(4))), (1.0, 0.0, 1.0, 0.0))
        for k, c in enumerate(cams)
    )
    edges = tuple(EdgeMark(c, (60.0 + 90 * k) % 720, 0.2, None, None, "f7") for k, c in enumerate(cams))
    return Assessment(
        "0.1.0",
        "2026-03-15",
        1,
        engine,
        "six cylinders, two banks",
        Intake(),
        findings,
        (),
        belief,
        plan(),
        recorded,
        edges,
        drawn_for(engine),
    )


CASES = {
    "seal": seal_case,
    "closed": seal_case_closed,
    "typed": typed_only,
    "cleared": cleared,
    "two banks": two_bank_case,
}
PHASER = Phaser(Number.between(40.0, 50.0))
