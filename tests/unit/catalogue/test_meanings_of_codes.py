"""What each code speaks about: the rows of HANDBOOK §7, families told out, and who says what a code means.

Which number means what is SAE J2012 / ISO 15031-6. The rows of HANDBOOK §7 were read there in a public data file; what
else is held here is from memory of the standard.
"""

from __future__ import annotations

import re

import pytest

from witnessmark.catalogue.codefiles import (
    CIRCUITS,
    CROSSINGS,
    FILES,
    KIND_WORDS,
    MONITORS,
    NEEDS,
    SYSTEMS,
    family_rows,
    told_rows,
)
from witnessmark.catalogue.codes import codes, is_makers, meaning_of, own_meanings
from witnessmark.errors import InputError
from witnessmark.vocabulary import STATES, quantities


def said(name: str) -> tuple[object, ...]:
    code = codes()[name]
    return tuple(one for one in (code.of, code.kind, code.bank, code.side, code.cylinder) if one is not None)


def handbook_rows():
    """HANDBOOK §7: code and meaning, read in a public data file."""
    cams = [(1, "A"), (1, "B"), (2, "A"), (2, "B")]
    yield from ((f"P000{n}", ("cam", "bank_relation", n - 7)) for n in (8, 9))
    for kind, names in (
        ("slow", ("P000A", "P000B", "P000C", "P000D")),
        ("actuator", ("P0010", "P0013", "P0020", "P0023")),
        ("over_advanced", ("P0011", "P0014", "P0021", "P0024")),
        ("over_retarded", ("P0012", "P0015", "P0022", "P0025")),
        ("correlation", ("P0016", "P0017", "P0018", "P0019")),
    ):
        yield from ((name, ("cam", kind, *cam)) for name, cam in zip(names, cams, strict=True))
    yield from ((f"P008{n}", ("rail", kind)) for n, kind in ((7, "low"), (8, "high")))
    five = ("circuit", "performance", "low", "high", "intermittent")
    yield from ((f"P0{100 + i}", ("maf", kind)) for i, kind in enumerate(five))
    yield from ((f"P0{105 + i}", ("map", kind)) for i, kind in enumerate(five))
    yield from ((f"P0{110 + i}", ("iat", kind)) for i, kind in enumerate(five[:4]))
    yield from ((name, ("mixture", "lean", bank)) for name, bank in (("P0171", 1), ("P0174", 2)))
    yield from ((name, ("mixture", "rich", bank)) for name, bank in (("P0172", 1), ("P0175", 2)))
    yield "P0300", ("engine", "misfire")
    yield from ((f"P0{300 + n}", ("cylinder", "misfire", n)) for n in range(1, 13))
    yield "P0315", ("wheel", "not_learnt")
    yield from ((f"P0{335 + i}", ("crank", kind)) for i, kind in enumerate(five))
    for first, bank, side in ((340, 1, "A"), (345, 2, "A"), (365, 1, "B"), (390, 2, "B")):
        yield from ((f"P0{first + i}", ("cam", kind, bank, side)) for i, kind in enumerate(five))
    yield from ((name, ("catalyst", "efficiency", bank)) for name, bank in (("P0420", 1), ("P0430", 2)))
    idle = ("control", "below_target", "above_target")
    yield from ((f"P0{505 + i}", ("idle", kind)) for i, kind in enumerate(idle))


@pytest.mark.parametrize(("name", "means"), list(handbook_rows()))
def test_rows_of_the_handbook(name, means):
    assert said(name) == means


@pytest.mark.parametrize(
    ("name", "words"),
    [
        # From memory of SAE J2012: the ends of families that are told out by rule.
        ("P0212", "Injector of cylinder 12: circuit"),
        ("P0261", "Injector of cylinder 1: circuit low"),
        ("P0295", "Injector of cylinder 12: circuit high"),
        ("P0296", "Cylinder 12 gives more or less than its share"),
        ("P0362", "Ignition coil L: circuit"),
        ("P2335", "Ignition coil L, secondary: circuit"),
        ("P2347", "Cylinder 12 knocks beyond the limit"),
        ("P0118", "Coolant temperature sensor: signal high"),
        ("P0161", "Heater of oxygen sensor 2, bank 2: circuit"),
        ("P0167", "Heater of oxygen sensor 3, bank 2: circuit"),
        ("P0062", "Heater of oxygen sensor 3, bank 2: control circuit"),
        ("P0061", "Heater of oxygen sensor 3, bank 2: resistance not as it should be"),
        ("P2198", "Oxygen sensor 1, bank 2, stays rich"),
        ("P2270", "Oxygen sensor 2, bank 1, stays lean"),
        ("P2273", "Oxygen sensor 2, bank 2, stays rich"),
        ("P0223", "Throttle or pedal sensor B: signal high"),
        ("P2128", "Throttle or pedal sensor E: signal high"),
        ("P0334", "Knock sensor 2: signal comes and goes"),
        ("P0652", "5 V source B of the sensors low"),
        ("P0699", "5 V source C of the sensors high"),
        ("P2095", "Oil valve, cam B, bank 2: circuit high"),
        ("P2190", "Mixture of bank 2 at idle: rich"),
        ("P0128", "Coolant does not reach what the thermostat is for"),
        ("U0100", "No communication with the engine computer A"),
    ],
)
def test_families_told_out(name, words):
    assert codes()[name].words == words


def test_words_kept_are_filled_and_differ():
    words = [code.words for code in codes().values()]
    assert not [text for text in words if "{" in text or not text or text != text.strip()]
    # A driver with two codes for its circuit, or a sensor with two wires, may be told in the same words; few are.
    assert len(words) - len(set(words)) < 3, sorted({text for text in words if words.count(text) > 1})


def test_every_code_keeps_to_the_closed_lists():
    known = quantities()
    for code in codes().values():
        assert code.system in SYSTEMS, code
        assert code.circuit in ("", *CIRCUITS), code
        assert code.monitor in ("", *MONITORS), code
        assert code.crossing in ("", *CROSSINGS), code
        assert set(code.needs) <= set(NEEDS), code
        assert set(code.states) <= set(STATES), code
        assert 0.0 < code.share <= 1.0, code
        if code.quantity:
            assert code.quantity in known, code
            assert {key for key, _ in code.place} <= {*known[code.quantity].keys, *known[code.quantity].optional}, code
            assert code.crossing, code
            assert code.limit, code
            assert code.states, code


def test_no_code_of_a_carmaker_is_among_them():
    assert not [name for name in codes() if is_makers(name)]
    assert {name[:2] for name in codes()} == {"P0", "P2", "U0"}


def test_the_codes_are_those_of_the_files_and_none_stands_twice():
    told = [row["id"] for family in family_rows() for row in told_rows(family)]
    assert len(told) == len(set(told)) == len(codes()) >= 400
    assert next(iter(codes())) == "P0008"
    assert len(FILES) == 6


def test_a_family_by_cylinders():
    family = {"of": "x", "system": "fuel", "words": "Part {cylinder}", "circuit": "driver", "each": "cylinder"}
    rows = list(told_rows({**family, "step": 3, "codes": {"P0261": "low", "P0262": {"kind": "own", "words": "Own"}}}))
    assert [row["id"] for row in rows[:4]] == ["P0261", "P0262", "P0264", "P0265"]
    assert [row["cylinder"] for row in rows[::2]] == list(range(1, 13))
    assert (rows[2]["words"], rows[3]["words"]) == ("Part 2: circuit low", "Own")
    assert not any(row["alone"] for row in rows)
    lettered = list(told_rows({**family, "each": "letter", "step": 1, "codes": {"P0351": "circuit"}}))
    assert (lettered[-1]["id"], lettered[-1]["side"], lettered[-1]["alone"]) == ("P0362", "L", True)


def test_kinds_have_words_for_each_circuit():
    assert set(KIND_WORDS) == set(CIRCUITS)
    assert all(re.fullmatch(r"[a-z ]+", text) for words in KIND_WORDS.values() for text in words.values())


# ---------------------------------------------------------------- who says what a code means


@pytest.mark.parametrize(
    ("code", "whose"),
    # Which numbers the carmakers give out themselves: SAE J2012, from memory.
    [
        ("P0171", "standard"),
        ("P1171", "maker"),
        ("P3100", "maker"),
        ("P3400", "unknown"),
        ("B1234", "maker"),
        ("C2345", "maker"),
        ("U1000", "maker"),
        ("B0001", "unknown"),
        ("P0999", "unknown"),
    ],
)
def test_whose_a_meaning_is(code, whose):
    found = meaning_of(code)
    assert found.whose == whose
    assert bool(found.words) == (whose == "standard")


def test_a_shop_adds_meanings_and_never_replaces_one_in_silence():
    own = own_meanings({"p1171": "Lean, by this  maker's count", "P0171": "Lean; look at the hose first"})
    assert meaning_of("P1171", own).words == "Lean, by this maker's count"
    assert meaning_of("P1171", own).whose == "shop"
    both = meaning_of("P0171", own)
    assert (both.whose, both.words) == ("standard", codes()["P0171"].words)
    assert both.shop == "Lean; look at the hose first"


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ({"P16": "x"}, "not a code"),
        ({"P1234": 3}, "no text"),
        ({"P1234": " "}, "no text"),
        ({"P1234": "x", "p1234": "y"}, "twice"),
    ],
)
def test_own_meanings_that_cannot_be_used(rows, says):
    with pytest.raises(InputError, match=says) as caught:
        own_meanings(rows, where="codes.toml")
    assert "codes.toml" in str(caught.value)
