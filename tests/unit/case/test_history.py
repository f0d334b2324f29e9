"""Facts, work done and circumstances as they are typed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.case.history import (
    engine_with_known,
    format_did,
    parse_did,
    parse_known,
    parse_when,
    said_history,
)
from witnessmark.catalogue.works import jobs
from witnessmark.engine.number import Number
from witnessmark.engine.types import Engine, Reporting
from witnessmark.errors import InputError
from witnessmark.infer.history import CIRCUMSTANCES, Work
from witnessmark.vocabulary import Place

IN_LINE = Engine("in-line four", 4, layout="inline")


def test_a_repair_of_the_answer_is_told_by_its_name():
    done = parse_did("repair retime:primary+wheel:crank cured=no")
    assert done.repairs == (("retime", "primary"), ("wheel", "crank"))
    assert done.cured is False
    assert format_did(done) == "repair retime:primary+wheel:crank cured=no"
    assert done.words == "repair “retime:primary+wheel:crank” done"
    assert said_history(did=["repair retime:primary cured=no"]).work_is_known is False


def test_facts() -> None:
    assert parse_known(["metering=air_meter km=187400", "years=12 oil=neglected"]) == {
        "metering": "air_meter",
        "km": "187400",
        "years": "12",
        "oil": "neglected",
    }
    assert parse_known(["km=116000mi"]) == {"km": "186684"}  # the international mile, 1.609344 km
    assert parse_known(["layout=in-line learns=YES worked_on=no"]) == {
        "layout": "inline",
        "learns": "yes",
        "worked_on": "no",
    }


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("kms=3", "No fact is called “kms”. Nearest: km."),
        ("km", "“km” is no fact. Expected key=value, as in km=187400."),
        ("km=187.400", "km=187.400 could be 187400 or less than a thousand. Write km=187400."),
        ("km=many", "km=many is not a distance. Write it as in km=187400."),
        ("km=12 kPa", "“kPa” is no fact. Expected key=value, as in km=187400."),
        ("years=old", "years=old is not a number of years. Write it as in years=12."),
        ("oil=bad", "oil= is never “bad”. One of: neglected, kept."),
        ("metering=air_metre", "metering= is never “air_metre”. Nearest: air_meter."),
        ("learns=maybe", "learns=maybe: yes or no? Leave learns= out if nobody knows."),
        ("km=1 km=2", "km= stands twice: 1 and 2."),
    ],
)
def test_facts_that_cannot_be_used(line: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_known([line])
    assert str(caught.value) == said


def test_a_fact_said_on_two_lines_stands_twice() -> None:
    with pytest.raises(InputError, match="km= stands twice: 1 and 2"):
        parse_known(["km=1", "km=2"])


def test_work_done() -> None:
    fitted = parse_did("fitted part=cam_sensor cam=intake cured=no")
    assert (fitted.verb, fitted.part, fitted.place) == ("fitted", "cam_sensor", Place.of(cam="intake"))
    assert (fitted.cured, fitted.began) == (False, None)
    work = parse_did("work part=crank_seal began=yes when=2026-03-02")
    assert (work.verb, work.part, work.cured, work.began, work.when) == (
        "work",
        "crank_seal",
        None,
        True,
        "2026-03-02",
    )


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("part=cam_sensor", "What was done? Expected fitted (a new part), work or repair first."),
        ("replaced part=cam_sensor", "No kind of work is called “replaced”. Nearest: fitted."),
        ("fited part=cam_sensor", "No kind of work is called “fited”. Nearest: fitted."),
        ("repair", "Which repair? Expected its name in the answer, as in repair injector:cylinder_3 cured=no."),
        (
            "repair part=injector",
            "Which repair? Expected its name in the answer, as in repair injector:cylinder_3 cured=no.",
        ),
        (
            "repair injector cured=no",
            "Which repair? Expected its name in the answer, as in repair injector:cylinder_3 cured=no.",
        ),
        ("repair injectr:cylinder_3 cured=no", "No repair is called “injectr”. Nearest: injector."),
        ("fitted", "fitted: which part? Add it, as in part=cam_sensor."),
        ("fitted part=cam_senser", "No part is called “cam_senser”. Nearest: cam_sensor."),
        ("fitted cam_sensor", "“cam_sensor” is half a pair. Expected key=value, as in part=cam_sensor."),
        ("fitted part=cam_sensor curd=no", "No key is called “curd”. Nearest: cured."),
        (
            "fitted part=cam_sensor cured=perhaps",
            "cured=perhaps: yes or no? Leave cured= out if nobody knows.",
        ),
        ("fitted part=cam_sensor bank=2", "Bank 2: an in-line engine has one."),
    ],
)
def test_work_that_cannot_be_used(line: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_did(line, engine=IN_LINE)
    assert str(caught.value) == said


def test_circumstances() -> None:
    assert parse_when(["cold load"]) == {"cold", "load"}
    assert parse_when(["Cold, and Wet"]) == {"cold", "wet"}
    with pytest.raises(InputError, match=r"No circumstance is called “colt”. Nearest: cold."):
        parse_when(["colt"])
    assert all(parse_when([word]) == {word} for word in CIRCUMSTANCES)


def test_everything_in_one() -> None:
    history = said_history(known=["km=1000"], did=["fitted part=battery"], when=["wet"], complaint_seen=True)
    assert history.known == {"km": "1000"}
    assert [work.part for work in history.done] == ["battery"]
    assert history.circumstances == {"wet"}
    assert history.complaint_seen is True


@given(
    st.builds(
        Work,
        st.sampled_from(["fitted", "work"]),
        st.sampled_from(sorted(jobs())),
        st.sampled_from([Place(), Place.of(cam="intake"), Place.of(bank=2, cam="exhaust"), Place.of(wheel="crank")]),
        st.none() | st.booleans(),
        st.none() | st.booleans(),
        st.sampled_from(["", "2026-03-02"]),
    )
)
def test_work_is_read_again_as_it_is_written(work: Work) -> None:
    assert parse_did(format_did(work)) == work


def test_facts_of_the_engine_enter_its_description() -> None:
    known = parse_known(["layout=inline sign=retarded a_is=exhaust learns=no"])
    engine = engine_with_known(Engine("some four", 4), known)
    assert (engine.layout, engine.banks) == ("inline", 1)
    assert engine.reporting.sign.exact == -1.0
    assert (engine.reporting.a_is, engine.reporting.learns) == ("exhaust", False)
    assert engine_with_known(Engine("some six", 6), parse_known(["layout=vee"])).banks == 2


@pytest.mark.parametrize("line", ["layout=vee", "sign=retarded", "a_is=exhaust", "learns=no"])
def test_a_fact_may_not_contradict_the_description(line: str) -> None:
    described = Reporting(sign=Number.exactly(1), a_is="intake", learns=True)
    engine = Engine("in-line four", 4, layout="inline", reporting=described)
    with pytest.raises(InputError, match="but the engine's description says"):
        engine_with_known(engine, parse_known([line]))
