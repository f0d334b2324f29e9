"""The time of the rows: which column, and stamps that repeat, stand still, begin again or cross midnight."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.recording.logtable.tables import of
from witnessmark.errors import FormatError, InputError, UnitError
from witnessmark.recording import Recording, TimeHints
from witnessmark.recording.logtable import ColumnUse, log_recording, time_blocks, time_candidates

SPEEDS = [800 + 7 * (k % 5) for k in range(400)]


def timed(heading: str, stamps: list[str], **hints: object) -> Recording:
    """A recording of rows with these stamps."""
    rows = zip(stamps, SPEEDS, strict=False)
    text = f"{heading};Speed;Load;Coolant\n" + "".join(f"{t};{n};{n % 13};88\n" for t, n in rows)
    return log_recording(of(text), hints=TimeHints(**hints))  # type: ignore[arg-type]


def told(recording: Recording) -> str:
    return " | ".join(recording.notes)


@pytest.mark.parametrize(
    ("heading", "stamps", "step_s"),
    [
        ("Time [s]", [f"{0.1 * k:.1f}" for k in range(40)], 0.1),
        ("Zeit [ms]", [f"{100 * k}" for k in range(40)], 0.1),
        ("temps_ms", [f"{250 * k}" for k in range(40)], 0.25),
        ("t", [f"{0.5 * k:.1f}" for k in range(40)], 0.5),
        ("Timestamp", [f"{1_700_000_000_000 + 200 * k}" for k in range(40)], 0.2),
        ("Hora", [f"10:{k // 12:02d}:{5 * (k % 12):02d}" for k in range(40)], 5.0),
        ("Datum", [f"2031-02-01 10:00:{k:02d}.500" for k in range(40)], 1.0),
        ("ENGINE_RUN_TINE ()", [f"{2 * k}.000000" for k in range(40)], 2.0),
        ("Tiempo", [f"{100 * k}" for k in range(40)], 0.1),  # whole numbers so far apart are milliseconds
        ("", [f"{0.5 * k:.1f}" for k in range(40)], 0.5),  # no heading, but it runs like a clock
    ],
)
def test_the_time_column_is_found(heading: str, stamps: list[str], step_s: float) -> None:
    recording = timed(heading, stamps)
    assert [trace.name for trace in recording] == ["Speed", "Load", "Coolant"]
    assert np.diff(recording["Speed"].times_s) == pytest.approx(step_s, rel=1e-9)
    assert ("names no unit" in told(recording)) == (heading in ("t", "Timestamp", "ENGINE_RUN_TINE ()", "Tiempo", ""))


def test_values_that_rise_are_no_time() -> None:
    """A coolant that warms up and a distance rise, too: neither orders the rows."""
    rows = "".join(f"{800 + k % 3};{40 + k // 3};{12.5 + 0.3 * k + 0.2 * (k % 2) * k:.1f};{k}\n" for k in range(60))
    table = of("Speed;Coolant temp;Distance [km];Nr\n" + rows)
    assert not [each for each in time_candidates(table) if each.quality >= 0.35]
    recording = log_recording(table)
    assert recording["Speed"].times_s.tolist() == list(range(60))
    assert "the number of the row stands for it" in told(recording)
    assert "step_s" in told(recording)
    spaced = log_recording(table, hints=TimeHints(step_s=0.5, start_s=3.0))
    assert spaced["Speed"].times_s[:2].tolist() == [3.0, 3.5]
    assert "no column holds the time" not in told(spaced)


def test_rows_that_share_a_second_are_spread_evenly_inside_it() -> None:
    stamps = [str(5 + k // 4) for k in range(40)]
    recording = timed("Run time [s]", stamps)
    speed = recording["Speed"]
    assert speed.times_s == pytest.approx(5.0 + 0.25 * np.arange(40))
    assert speed.stamp_s == 1.0
    assert "40 of 40 rows share their stamp" in told(recording)


@given(st.lists(st.integers(1, 4), min_size=5, max_size=40))
def test_spreading_moves_no_row_out_of_its_second(counts: list[int]) -> None:
    stamps = np.repeat(np.arange(len(counts)), counts)
    speed = timed("Run time [s]", [str(t) for t in stamps])["Speed"]
    late = speed.times_s - stamps
    if max(counts) <= 2 * np.median(counts):
        assert late.min() >= 0.0
        assert late.max() < 1.0
    assert (np.diff(speed.times_s) > 0).all()


def test_a_count_that_stands_before_the_start_leaves_later_times_as_written() -> None:
    stamps = ["0"] * 30 + [str(1 + k // 2) for k in range(40)]
    recording = timed("Run time [s]", stamps)
    times = recording["Speed"].times_s
    assert times[30] == 1.0
    assert times[-1] == 20.5
    assert np.diff(times[:31]) == pytest.approx(0.5)
    assert "stands still over 30 rows" in told(recording)


def test_a_run_time_that_begins_again_goes_on_and_leaves_a_gap() -> None:
    stamps = [str(100 + k) for k in range(20)] + [str(k) for k in range(20)]
    recording = timed("Run time [s]", stamps)
    speed = recording["Speed"]
    assert speed.times_s[19:22].tolist() == [119.0, 120.0, 121.0]
    (gap,) = speed.gaps
    assert (gap.from_s, gap.to_s) == (119.0, 120.0)
    assert "began again" in gap.reason
    assert "begins again 1 time" in told(recording)


def test_midnight() -> None:
    stamps = [f"23:59:{50 + k}" for k in range(10)] + [f"00:00:{k:02d}" for k in range(10)]
    recording = timed("Uhrzeit", stamps)
    assert np.diff(recording["Speed"].times_s) == pytest.approx(1.0)
    assert "passes midnight 1 time" in told(recording)
    assert recording.started == "23:59:50"


def test_a_single_stamp_out_of_order_and_a_missing_one_are_put_between_their_neighbours() -> None:
    stamps = [f"{0.5 * k:.1f}" for k in range(60)]
    stamps[20], stamps[40] = "0.0", ""
    recording = timed("Time [s]", stamps)
    assert recording["Speed"].times_s == pytest.approx(0.5 * np.arange(60))
    assert "1 stamp out of order" in told(recording)
    assert "is missing in 1 row" in told(recording)


def test_missing_rows_and_missing_samples_are_gaps() -> None:
    rows = [f"{0.5 * k:.1f};{800 + k % 3};{'' if 20 <= k < 30 else 88}\n" for k in range(80) if not 50 <= k < 60]
    recording = log_recording(of("Time [s];Speed;Coolant\n" + "".join(rows)))
    speed, coolant = recording["Speed"], recording["Coolant"]
    assert [(gap.from_s, gap.to_s, gap.reason) for gap in speed.gaps] == [(24.5, 30.0, "rows are missing")]
    assert [(gap.from_s, gap.to_s, gap.reason) for gap in coolant.gaps] == [
        (9.5, 15.0, "samples are missing"),
        (24.5, 30.0, "rows are missing"),
    ]
    assert len(coolant) == len(speed) - 10


def test_several_rates_in_one_file_are_no_gaps() -> None:
    rows = "".join(f"{0.1 * k:.1f};{800 + k % 3};{60 + k // 50 if k % 10 == 3 else ''}\n" for k in range(200))
    coolant = log_recording(of("Time [s];Speed;Coolant\n" + rows))["Coolant"]
    assert coolant.times_s == pytest.approx(0.3 + 1.0 * np.arange(20))
    assert not coolant.gaps


@pytest.mark.parametrize("headings", ["Time;Speed;Time;Coolant;MAP", "t_speed;speed;t_coolant;coolant;map"])
def test_blocks_with_a_time_column_each(headings: str) -> None:
    rows = []
    for k in range(100):
        slow = f"{0.05 + 1.0 * k:.2f};{60 + k};{30 + k % 3}" if k < 20 else ";;"
        rows.append(f"{0.2 * k:.1f};{800 + k % 3};{slow}\n")
    table = of(headings + "\n" + "".join(rows))
    blocks = time_blocks(table, time_candidates(table))
    assert [(block.time.column, block.columns) for block in blocks] == [(0, (1,)), (2, (3, 4))]
    recording = log_recording(table)
    assert [trace.channel for trace in recording] == [0, 1, 2]
    assert recording.traces[0].times_s == pytest.approx(0.2 * np.arange(100))
    for trace in recording.traces[1:]:
        assert trace.times_s == pytest.approx(0.05 + np.arange(20))


def test_two_clocks_of_the_same_rows_are_no_blocks() -> None:
    rows = "".join(f"10:00:{k:02d};{k};{800 + k};{k}.0;30\n" for k in range(50))
    table = of("Clock;Elapsed [s];Speed;Run time [s];MAP\n" + rows)
    assert time_blocks(table, time_candidates(table)) == ()
    assert [trace.name for trace in log_recording(table)] == ["Elapsed", "Speed", "Run time", "MAP"]


def test_roles_bring_values_into_the_unit_of_the_parameter() -> None:
    rows = "".join(f"{k};{14.5 + 0.1 * (k % 3):.1f};{190 + k % 5};{57.6};{k % 7};15\n" for k in range(20))
    table = of("Time [s];MAP [psi];Coolant [°F];Timing [%];Speed [mph];Odd [V]\n" + rows)
    recording = log_recording(
        table,
        {
            1: "map",
            2: "coolant",
            # The raw byte as a share of 255: 57.6 % is byte 147, and byte/2 - 64 is 9.5° (HANDBOOK §7, PID 0E)
            3: ColumnUse("timing", "deg", 255.0 / 100.0 / 2.0, -64.0),
            4: "vehicle_speed",
        },
    )
    by_role = {trace.role: trace for trace in recording}
    assert by_role["map"].values[0] == pytest.approx(14.5 * 6.894757293, rel=1e-9)
    assert by_role["map"].raw[0] == 14.5  # what the file holds stays
    assert by_role["coolant"].values[2] == pytest.approx((192 - 32) / 1.8)
    assert by_role["timing"].values[0] == pytest.approx(9.44)
    assert by_role["vehicle_speed"].values[3] == pytest.approx(3 * 1.609344)
    assert [trace.unit for trace in recording] == ["kPa", "C", "deg", "km/h", "V"]
    assert by_role[None].name == "Odd"
    with pytest.raises(UnitError, match=r"“Odd \[V\]” is in V, and map is kept in kPa"):
        log_recording(table, {5: "map"})
    with pytest.raises(InputError, match="No parameter is called"):
        log_recording(table, {5: "mapp"})
    with pytest.raises(InputError, match="column 9"):
        log_recording(table, {9: "map"})


def test_the_time_column_may_be_told() -> None:
    rows = "".join(f"{k};{100 * k};{800 + k}\n" for k in range(30))
    table = of("Time [s];Count;Speed\n" + rows)
    assert log_recording(table, {1: "time"})["Speed"].times_s[1] == pytest.approx(0.1)
    by_sidecar = log_recording(table, hints=TimeHints(column=1, unit="us"))
    assert by_sidecar["Speed"].times_s[1] == pytest.approx(1e-4)
    kept = log_recording(table, {0: "run_time"})
    assert [trace.role for trace in kept] == [None, None, "run_time"]
    with pytest.raises(FormatError, match="column 7 the time"):
        log_recording(table, hints=TimeHints(column=7))
    with pytest.raises(InputError, match="column 2 cannot order the rows"):
        log_recording(of("a;b;c\n" + "".join(f"{k};1;{k % 2}\n" for k in range(30))), {2: "time"})
