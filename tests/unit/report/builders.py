"""Assessments made by hand for the tests of the page, the text and the JSON. All of it invented."""

from __future__ import annotations

import math
from dataclasses import replace

from tests.unit.report.engines import drawn_for, in_line_four, two_banks
from tests.unit.report.parts import (
    HOT_IDLE,
    code,
    deviation,
    fault,
    jumped_chain,
    measured,
    minor_causes,
    numbered,
    ranked,
    slipped_wheel,
    specials,
    stale_zero,
    weight,
    worn_chain,
)
from witnessmark.case.assessment import Assessment, DrawnTrace, EdgeMark, Intake
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.infer.belief import (
    Assumed,
    Belief,
    Block,
    Fit,
    Group,
    Hypothesis,
    StepFit,
    Verdict,
)
from witnessmark.plan.types import Outcome, Plan, PlannedStep
from witnessmark.vocabulary import Condition, Place

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
    complaint=(
        "Since the front seal was done it turns over a long time before it catches. Cold or warm makes no odds. "
        "The lamp came on two days later."
    ),
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
    "Nothing recorded here knows where the piston is; every angle above is counted from the wheel, "
    "and the wheel itself is in doubt",
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
            "After any work on the drive turn the engine by hand, in running direction, two full turns of the cams "
            "before the starter; stop at any resistance.",
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
    """One bank late on a two-bank engine; no case, four cams recorded and nothing described to hold them against."""
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
