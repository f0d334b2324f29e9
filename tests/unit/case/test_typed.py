"""Readings typed by hand: what is understood, what is refused, and with which words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.case.code import parse_code, parse_code_reading
from witnessmark.case.graded import DENYING
from witnessmark.case.places import GASES, LEARNT_ITEMS, SENSORS
from witnessmark.case.typed import format_reading, parse_reading, refuse_twice
from witnessmark.engine.types import Camshaft, Engine
from witnessmark.errors import InputError
from witnessmark.finding import Finding
from witnessmark.vocabulary import CAMS, PLACE_KEYS, STATES, Condition, Place, Quantity, quantities

FOUR = Engine("some four", 4)
IN_LINE = Engine("in-line four", 4, layout="inline")
SINGLE_CAM = Engine("in-line four", 4, layout="inline", banks=1, cams=(Camshaft(1, "single"),))


# ---------------------------------------------------------------- what is understood


def test_a_plain_reading_has_the_usual_spread() -> None:
    found = parse_reading("cam_deviation bank=1 cam=intake -11", engine=FOUR)
    assert (found.quantity, found.value, found.sd, found.unit) == ("cam_deviation", -11.0, 1.0, "deg")
    assert found.place == Place.of(bank=1, cam="intake")
    assert found.condition == Condition()
    assert found.source.kind == "typed"
    assert found.source.text == "cam_deviation bank=1 cam=intake -11"


@pytest.mark.parametrize(
    ("line", "value", "sd"),
    [
        ("cam_deviation cam=intake -11", -11, 1),
        ("cam_deviation cam=intake −10,8° ±0,5", -10.8, 0.5),
        ("cam_deviation cam=intake -10.8deg +- 0.5deg", -10.8, 0.5),
        ("cam_deviation cam=intake -10.8 ±0.5 deg", -10.8, 0.5),
        ("cam_deviation -10.8 ±0.5 cam=intake", -10.8, 0.5),
        ("CAM_DEVIATION CAM=Intake -11", -11, 1),
        # one cam degree is two crank degrees: conventions, rule 5
        ("cam_deviation cam=intake -5.5 cam_deg", -11, 1),
        ("cam_deviation cam=intake -5.5 ±0.5 cam_deg", -11, 1),
        ("cam_deviation cam=intake -11 deg ±0.5 cam_deg", -11, 1),
        # SI brochure, 9th edition, and the international pound: 1 psi = 6.894757 kPa
        ("compression_peak cylinder=1 175 psi", 1206.5825, 0.04 * 1206.5825),
        ("compression_peak cylinder=1 12 bar ±50 kPa", 1200, 50),
        ("compression_peak cylinder=1 1200 kPa ±5 %", 1200, 60),
        # 195 °F = 90.56 °C; a spread of 9 °F is 5 °C: the offset does not move it
        ("temperature_reported sensor=ect 195 F ±9 F", 90.5556, 5),
        ("temperature_reported sensor=ect 90,5 °C", 90.5, 1.5),
        ("engine_speed 780 rpm", 780, 15),
        ("engine_speed 780 1/min", 780, 15),
        ("misfire_count cylinder=2 5 % ±1 %", 50, 10),
        ("fuel_trim bank=1 +12 % ±3 %", 12, 3),
        ("edges_missing wheel=crank 0.5 1/turn", 0.5, 0.01),
        ("tensioner_extension chain=primary 0.5 in", 12.7, 0.5),
        ("battery_ohm battery=main 6 mohm", 6, 0.6),
        ("mark_offset mark=intake 0,5 teeth", 0.5, 0.3),
        ("pins_between mesh=primary.b1.intake 17", 17, 0.3),
        ("wheel_angle_seen wheel=b1.intake 5 cam_deg", 5, 0.7),  # of its own shaft: conventions, rule 5
        ("learnt_reported learnt_item=cam_zero cam=intake -20 deg", -20, 12**-0.5),
        ("runs_rough 2", 2, 0.5),
    ],
)
def test_values_come_in_the_unit_of_the_quantity(line: str, value: float, sd: float) -> None:
    found = parse_reading(line, engine=FOUR)
    assert found.value == pytest.approx(value, rel=1e-6)
    assert found.sd == pytest.approx(sd, rel=1e-6)


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("code_state code=P0016 set", 1),
        ("code_state code=p0016 not_set", 0),
        ("code_state code=P0016 not set", 0),
        ("code_state code=P0016 yes", 1),
        ("starts no", 0),
        ("stalls 1", 1),
        ("signal_polarity position=crank reversed", -1),
        ("signal_polarity position=crank +1", 1),
        ("leak_path cylinder=3 intake", 2),
        ("leak_path cylinder=3 slightly plug hole", 1),
        ("leak_path cyl=3 coolant 0", 0),
        ("look part=cam_sensor oily", 2),
    ],
)
def test_words_are_values_too(line: str, value: float) -> None:
    assert parse_reading(line, engine=FOUR).value == value


def test_behind_a_word_the_spread_is_a_chance() -> None:
    assert parse_reading("code_state code=P0016 set").sd == 0.02
    assert parse_reading("code_state code=P0016 set ±0.1").sd == 0.1
    assert parse_reading("code_state code=P0016 set ±10 %").sd == pytest.approx(0.1)
    with pytest.raises(InputError, match=r"between 0 and 0\.5"):
        parse_reading("code_state code=P0016 set ±0.7")


def test_a_spread_that_is_a_share_never_vanishes_at_nought() -> None:
    """1 % of 0 would be a reading without any doubt; a screen still rounds."""
    assert parse_reading("learnt_reported learnt_item=cam_zero cam=intake 0").sd == pytest.approx(12**-0.5)
    assert parse_reading("learnt_reported learnt_item=cam_zero cam=intake 0.0").sd == pytest.approx(0.1 * 12**-0.5)


def test_the_condition() -> None:
    line = (
        "cam_deviation cam=intake state=idle speed_rpm=780 coolant_c=90,5 phaser=parked complaint=present"
        " during=swap_oil_valve freeze=p0017 -11"
    )
    assert parse_reading(line).condition == Condition(
        "idle", 780.0, 90.5, "parked", "present", "swap_oil_valve", "P0017"
    )


# ---------------------------------------------------------------- what is refused, word for word


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("", "Nothing is written here."),
        (
            "-11 deg",
            "Begin with what was read. Expected a quantity first, as in: cam_deviation bank=1 cam=intake -11.",
        ),
        ("cam_deviaton cam=intake -11", "No quantity is called “cam_deviaton”. Nearest: cam_deviation."),
        ("cam_deviation banc=1 cam=intake -11", "No key is called “banc”. Nearest: bank."),
        ("cam_deviation cam=intake cylinder=1 -11", "cam_deviation has no cylinder=. It takes cam= and bank=."),
        ("cam_deviation bank=1 -11", "cam_deviation: which cam? Expected cam=intake, cam=exhaust or cam=single."),
        ("cam_deviation cam=inlet -11", "No cam is called “inlet”. Nearest: intake."),
        ("cam_deviation cam=both -11", "No cam is called “both”. One of: intake, exhaust, single."),
        ("cam_deviation cam=intake bank=0 -11", "bank=0: counting starts at 1."),
        ("cam_deviation cam=intake bank=left -11", "bank=left is not a whole number."),
        ("compression_peak cylinder=7 1200 kPa", "Cylinder 7: this engine has 4."),
        ("cam_deviation bank=2 cam=intake -11", "Bank 2: an in-line engine has one."),
        (
            "cam_deviation cam=intake -11 grad",
            "No unit is called “grad”. cam_deviation is read in deg (or in cam_deg).",
        ),
        ("cam_deviation cam=intake -11 kPa", "kPa measures pressure, not angle. Expected one of deg, cam_deg."),
        ("battery_ohm battery=main 6 ohm", "battery_ohm is read in mohm, not in ohm."),
        ("code_state code=P0016 12", "code_state is set or not_set, not “12”."),
        ("starts sometimes", "starts is yes or no, not “sometimes”."),
        (
            "look part=cam_sensor oli",
            f"No answer for look is called “oli”. Nearest: oily; known: {', '.join(quantities()['look'].words)}.",
        ),
        (
            "cam_deviation bank=1 cam=intake",
            "cam_deviation has no value. Write it last, as in: cam_deviation cam=intake 12.",
        ),
        (
            "cam_deviation cam=intake ±1",
            "cam_deviation has no value. Write it last, as in: cam_deviation cam=intake 12.",
        ),
        (
            "cam_deviation cam=intake late",
            "“late” is not a number. Write it as in: cam_deviation cam=intake 12.",
        ),
        (
            "cam_deviation cam=intake -11 -12",
            "Two numbers stand here: -11 and -12. Write one value; a spread stands behind ±.",
        ),
        ("cam_deviation cam=intake -11 ±-1", "±-1: a spread is not negative."),
        ("cam_deviation cam=intake -11 ±0", "±0: nothing is read that exactly. Leave ± out for the usual ±1 deg."),
        ("cam_deviation cam=intake -11 ±", "Nothing stands behind the ±. Write the spread, or leave ± out."),
        ("cam_deviation cam=intake -11 ±1 ±2", "± stands twice. Write one value and one spread."),
        ("cam_deviation cam=intake -1100", "-1100 is more than a whole turn. Look at the number again."),
        ("cam_deviation cam=intake state=idel -11", "No state is called “idel”. Nearest: idle."),
        ("cam_deviation cam=intake complaint=yes -11", "No complaint is called “yes”. One of: absent, present."),
        (
            "cam_deviation cam=intake state -11",
            "“state” lacks its value. Write state= and the word, without a space.",
        ),
        (
            "engine_speed coolant_c=hot 780",
            "coolant_c=hot is not a number. Write the number alone, as in coolant_c=90.",
        ),
        ("engine_speed speed_rpm=-5 780", "speed_rpm=-5: a speed is 0 or more."),
        ("engine_speed 1,200 rpm", "“1,200” could be 1200 or 1.200. Write 1200, or 1.200."),
        ("pins_between mesh=primary.b1.intake 17.5", "pins_between is counted: 17.5 is not a whole number."),
        (
            "tensioner_extension chain=primary 1/2 in",
            "“1/2 in” is not a number. Write a fraction with a point, as in 0.5.",
        ),
        ("runs_rough 5", "runs_rough is graded 0 (not at all) to 3 (badly), not 5."),
        ("cam_separation cam=intake other_cam=intake 3", "cam_separation needs two cams, not intake twice."),
        ("learnt_reported learnt_item=cam_zro cam=intake 3", "No learnt item is called “cam_zro”. Nearest: cam_zero."),
        ("wheel_angle_seen wheel=intake 5", "No wheel is called “intake”. Nearest: b1.intake."),
        ("wheel_angle_seen wheel=crank 5 cam_deg", "The crank wheel turns in crank degrees. Expected deg."),
        ("temperature_reported sensor=etc 90", "No sensor is called “etc”. Nearest: ect."),
        (
            "freeze_value code=P0016 780",
            "freeze_value has no number of its own. Write what the frame shows, with freeze=CODE, as in: "
            "engine_speed freeze=P0016 780 rpm.",
        ),
        (
            "code_state code=P016 set",
            "“P016” is not a code: one digit is missing. Expected a letter and four digits, as in P0016. "
            "Nearest: P0016.",
        ),
    ],
)
def test_every_refusal_is_one_sentence_or_two(line: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_reading(line, engine=IN_LINE)
    assert str(caught.value) == said


def test_bank_two_is_left_open_where_the_layout_is() -> None:
    assert parse_reading("cam_deviation bank=2 cam=intake -11", engine=FOUR).place.get("bank") == 2
    with pytest.raises(InputError, match="Bank 3: more than 2 banks are not covered"):
        parse_reading("cam_deviation bank=3 cam=intake -11", engine=FOUR)


def test_cams_are_held_against_the_description() -> None:
    with pytest.raises(InputError, match="No intake cam on bank 1 of this engine"):
        parse_reading("cam_deviation cam=intake -11", engine=SINGLE_CAM)
    with pytest.raises(InputError, match=r"No position is called “b1.intake”. Nearest: b1.single."):
        parse_reading("signal_amplitude position=b1.intake 2 V", engine=SINGLE_CAM)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("P016", "one digit is missing"),
        ("P00", "2 digits are missing"),
        ("P00166", "it has one digit too many"),
        ("PO016", "it has the letter O where a nought belongs"),
        ("X0016", "it begins with P, C, B or U"),
        ("0016", "it begins with P, C, B or U"),
        ("P9016", "its second place is 0, 1, 2 or 3"),
        ("P001G", "its last three places are 0 to 9 or A to F"),
        ("", "nothing is written"),
    ],
)
def test_a_code_says_what_is_missing(code: str, said: str) -> None:
    with pytest.raises(InputError, match=f"is not a code: {said}"):
        parse_code(code)


@pytest.mark.parametrize("code", ["P0016", "p0016", " P0016 ", "P0016-00", "p0016:1c"])
def test_codes_in_every_writing(code: str) -> None:
    """Form: SAE J2012 / ISO 15031-6; two more places behind a dash are the failure type byte."""
    found = parse_code_reading(code)
    assert (found.quantity, found.place, found.value) == ("code_state", Place.of(code="P0016"), 1.0)
    assert found.source.text == code.strip()


def test_the_nearest_code_begins_alike() -> None:
    for wrong, near in (("P016", "P0016"), ("P001G", "P001"), ("P0O16", "P0016")):
        with pytest.raises(InputError, match=f"Nearest: {near}"):
            parse_code(wrong)


# ---------------------------------------------------------------- twice


def refused(*lines: str) -> str:
    with pytest.raises(InputError) as caught:
        refuse_twice([parse_reading(line) for line in lines])
    return str(caught.value)


def test_two_values_for_one_place() -> None:
    assert refused("cam_deviation bank=1 cam=intake -11", "cam_deviation cam=intake -12") == (
        "cam_deviation cam=intake is given twice under one condition: -11 deg and -12 deg. "
        "Say what was different (state=, complaint=, phaser=), or keep one."
    )
    assert refused("code_state code=P0016 set", "code_state code=P0016 set") == "P0016 is given twice. Once is enough."
    assert "not_set and set" in refused("code_state code=P0016 not_set", "code_state code=P0016 set")


def test_what_differs_in_place_or_condition_may_stand_side_by_side() -> None:
    lines = (
        "cam_deviation bank=1 cam=intake -11",
        "cam_deviation bank=2 cam=intake -11",
        "cam_deviation bank=1 cam=exhaust -11",
        "cam_deviation bank=1 cam=intake state=idle -11",
        "cam_deviation bank=1 cam=intake state=idle complaint=present -11",
        "cam_phase_reported bank=1 cam=intake -11",
    )
    refuse_twice([parse_reading(line) for line in lines])


# ---------------------------------------------------------------- there and back

_PLAIN_WORDS = st.from_regex(r"[a-z][a-z0-9_.]{0,8}", fullmatch=True)
_CLOSED = {
    "cam": CAMS,
    "other_cam": CAMS,
    "learnt_item": LEARNT_ITEMS,
    "gas": GASES,
    "sensor": SENSORS,
    "code": ("P0016", "P0340", "U0100", "B10AF"),
    "wheel": ("crank", "b1.intake", "b2.exhaust"),
    "position": ("crank", "b1.intake", "b2.exhaust"),
}


@st.composite
def places(draw: st.DrawFn, kind: Quantity) -> Place:
    optional = [key for key in kind.optional if draw(st.booleans())]
    found: dict[str, str | int] = {}
    for key in (*kind.keys, *optional):
        if key == "zone":
            found[key] = draw(st.sampled_from(kind.zones))
        elif key == "word":
            found[key] = draw(st.sampled_from(kind.words))
        elif key in ("bank", "other_bank"):
            found[key] = draw(st.integers(1, 2))
        elif key == "cylinder":
            found[key] = draw(st.integers(1, 16))
        else:
            found[key] = draw(st.sampled_from(_CLOSED[key]) if key in _CLOSED else _PLAIN_WORDS)
    if "other_cam" in found:
        found["other_cam"] = "exhaust" if found["cam"] == "intake" else "intake"
    return Place.from_mapping(found)


@st.composite
def readings(draw: st.DrawFn) -> Finding:
    kind = draw(st.sampled_from([kind for kind in quantities().values() if kind.name != "freeze_value"]))
    sd = draw(st.floats(1e-6, 1e6))
    if kind.kind == "yes_no":
        value, sd = draw(st.sampled_from([0.0, 1.0])), draw(st.floats(1e-6, 0.499))
    elif kind.kind == "sign":
        value, sd = draw(st.sampled_from([-1.0, 1.0])), draw(st.floats(1e-6, 0.499))
    elif kind.kind == "grade":
        value, sd = float(draw(st.integers(0, 3))), draw(st.floats(1e-6, 0.499))
    elif kind.kind == "count" and kind.name != "mark_offset":
        value = float(draw(st.integers(-200, 200)))
    elif kind.unit == "0..3":
        value = draw(st.floats(0.0, 3.0))
    elif kind.unit == "deg":
        value = draw(st.floats(-360.0, 360.0))
    else:
        value = draw(st.floats(-1e9, 1e9))
    condition = Condition(
        state=draw(st.none() | st.sampled_from(STATES)),
        speed_rpm=draw(st.none() | st.floats(0.0, 9000.0)),
        coolant_c=draw(st.none() | st.floats(-40.0, 150.0)),
        phaser=draw(st.none() | st.sampled_from(["parked", "moved"])),
        complaint=draw(st.none() | st.sampled_from(["present", "absent"])),
        during=draw(st.none() | st.just("swap_oil_valve")),
        freeze=draw(st.none() | st.sampled_from(["P0016", "P0340"])),
    )
    place = draw(places(kind))
    return Finding(kind.name, place, 0.0 if place.get("word") in DENYING else value, sd, condition)


def test_a_confirmed_figure_keeps_its_word() -> None:
    line = parse_reading("charging_volts battery=battery state=idle 142 checked")
    assert (line.value, line.checked) == (142.0, True)
    assert line.source.text.endswith("142 checked")
    assert parse_reading(format_reading(line)).checked
    assert parse_reading("charging_volts battery=battery CHECKED state=idle 14,2 V ±0.1").checked
    assert not parse_reading("charging_volts battery=battery state=idle 14.2").checked


@pytest.mark.parametrize("line", ["code_state code=P0017 set checked", "noise at=intake hiss 2 checked"])
def test_only_a_figure_can_be_confirmed(line: str) -> None:
    with pytest.raises(InputError, match=r"“checked” confirms a figure, and \w+ is none\. Leave it out"):
        parse_reading(line, engine=FOUR)


@pytest.mark.parametrize(
    ("line", "number", "unit"),
    [
        ("ambient_temperature 196 F", 196.0, "F"),
        ("compression_peak cylinder=1 11,8", 11.8, ""),
        ("compression_peak cylinder=1 12 ±0.5 bar", 12.0, "bar"),
        ("cam_deviation cam=intake −10,8° ±5 %", -10.8, "°"),
    ],
)
def test_the_figure_as_it_was_typed_is_kept(line: str, number: float, unit: str) -> None:
    source = parse_reading(line).source
    assert (source.number, source.unit) == (number, unit)


@given(readings())
def test_what_is_written_is_read_again(finding: Finding) -> None:
    again = parse_reading(format_reading(finding))
    assert (again.quantity, again.place, again.condition) == (finding.quantity, finding.place, finding.condition)
    assert again.value == finding.value
    assert again.sd == pytest.approx(finding.sd, rel=1e-12)


def refusal_of(line: str) -> str:
    try:
        parse_reading(line, engine=FOUR)
    except InputError as error:
        return str(error)
    return ""


@given(st.text(max_size=80))
def test_whatever_is_typed_is_a_finding_or_one_line(text: str) -> None:
    for line in (text, f"cam_deviation {text}", f"cam_deviation cam=intake {text}", f"code_state code=P0016 {text}"):
        refusal = refusal_of(line)
        assert "\n" not in refusal
        assert not refusal or refusal.endswith((".", "?", "!"))


def test_no_key_of_a_place_is_also_one_of_the_condition() -> None:
    assert not set(PLACE_KEYS) & set(Condition.__slots__)
