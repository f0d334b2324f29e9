"""What is seen, smelt and heard, as it is typed: the quick way and the full one say the same."""

from __future__ import annotations

import pytest

from witnessmark.case.typed import format_reading, parse_reading, refuse_twice
from witnessmark.errors import InputError
from witnessmark.finding import Finding
from witnessmark.vocabulary import Place

GRADES = "0 (looked for, and not so), 1 (slightly), 2 (plainly) or 3 (grossly)"
SMELLS = "none, fuel, burnt_oil, coolant, sulphur, hot_electrics, exhaust"


@pytest.mark.parametrize(
    ("line", "place", "grade"),
    [
        ("look at=plug cyl=3 word=sooty 2", {"plug": "3", "word": "sooty"}, 2),
        ("look plug=3 sooty 2", {"plug": "3", "word": "sooty"}, 2),
        ("look plug=3 sooty", {"plug": "3", "word": "sooty"}, 2),
        ("look sooty 1 plug=3", {"plug": "3", "word": "sooty"}, 1),
        ("look plug=3 slightly sooty", {"plug": "3", "word": "sooty"}, 1),
        ("look plug=3 grossly oily", {"plug": "3", "word": "oily"}, 3),
        ("look plug=3 not oily", {"plug": "3", "word": "oily"}, 0),
        ("look plug=3 clean", {"plug": "3", "word": "clean"}, 0),
        ("look plug=3 ok", {"plug": "3", "word": "clean"}, 0),
        ("look cyl=2 wet 1", {"cylinder": 2, "word": "wet"}, 1),
        ("look at=boot cyl=2 burnt", {"part": "boot_2", "word": "burnt"}, 2),
        ("look at=runner cyl=2 loose", {"duct": "runner_2", "word": "loose"}, 2),
        ("look at=tail_pipe blue 3", {"zone": "tail_pipe", "word": "blue"}, 3),
        ("look at=air_filter dirty", {"duct": "air_filter", "word": "dirty"}, 2),
        ("look at=oil milky", {"fluid": "oil", "word": "milky"}, 2),
        ("look at=fuel wet", {"fuel": "fuel", "word": "wet"}, 2),
        ("look node=engine_ground corroded 3", {"node": "engine_ground", "word": "corroded"}, 3),
        ("smell at=exhaust burnt oil 1", {"zone": "exhaust", "word": "burnt_oil"}, 1),
        ("smell at=engine_bay petrol", {"zone": "engine_bay", "word": "fuel"}, 2),
        ("smell zone=cabin nothing", {"zone": "cabin", "word": "none"}, 0),
        ("noise at=intake hissing 3", {"zone": "intake", "word": "hiss"}, 3),
        ("noise at=front_cover rattle none", {"zone": "front_cover", "word": "rattle"}, 0),
    ],
)
def test_quick_lines(line: str, place: dict[str, str | int], grade: int) -> None:
    found = parse_reading(line)
    assert found.place == Place.from_mapping(place)
    assert (found.value, found.sd) == (grade, 0.1)
    again = parse_reading(format_reading(found))
    assert (again.place, again.value, again.sd) == (found.place, found.value, found.sd)


def test_condition_and_chance_of_error() -> None:
    found = parse_reading("noise at=exhaust state=idle coolant_c=20 complaint=present tick 2 ±0.2")
    assert (found.condition.state, found.condition.coolant_c, found.condition.complaint) == ("idle", 20.0, "present")
    assert found.sd == 0.2


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("look plug=3 clean 2", "clean is grade 0 of all other words: it takes no 2."),
        ("look plug=3 sooty oily", "Two words stand here: sooty and oily. Write a line for each."),
        ("look plug=3 sooty 5", f"look is graded {GRADES}, not 5."),
        ("noise at=intake hiss 1.5", f"noise is graded {GRADES}, not 1.5."),
        ("noise at=bonnet tick", "No place for noise is called “bonnet”. Nearest: belt."),
        ("look at=plug sooty", "No place for look is called “plug”. Say which: at=plug cyl=3."),
        ("smell fuel 2", "smell: which zone? Expected zone=exhaust, zone=engine_bay, zone=dipstick or zone=cabin."),
        ("smell zone=roof fuel", "No zone is called “roof”. One of: cabin, dipstick, engine_bay, exhaust."),
        ("smell at=exhaust fule", f"No answer for smell is called “fule”. Nearest: fuel; known: {SMELLS}."),
        ("smell at=exhaust 2", f"smell: which word? Expected {SMELLS}."),
        ("look plug=3 sooty 2 ±0.7", "±0.7: the chance of a wrong answer lies between 0 and 0.5."),
    ],
)  # fmt: skip
def test_what_is_refused(line: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_reading(line)
    assert str(caught.value) == said


def test_a_finding_holds_whole_grades_only() -> None:
    with pytest.raises(InputError, match=r"graded 0, 1, 2 or 3, not 1\.5"):
        Finding("look", Place.of(plug="3", word="sooty"), 1.5, 0.1)


def test_a_place_is_clean_or_it_is_not() -> None:
    clean, oily, dry, sooty = (parse_reading(f"look plug=3 {word}") for word in ("clean", "oily 1", "dry", "sooty"))
    for pair in ((clean, oily), (sooty, clean), (dry, oily)):
        with pytest.raises(InputError, match=r"plug=3 is called (clean|dry) and (oily|sooty)\. Keep one line"):
            refuse_twice(pair)
    refuse_twice((dry, sooty))
    refuse_twice((clean, parse_reading("look plug=2 oily"), parse_reading("look plug=3 not oily")))
