"""Past runs from CSV: columns by their heads, days as people write them, an error for each bad row."""

from __future__ import annotations

from datetime import date

import pytest

from athletes.running.history import MOST_ROWS, HistoryError, UnknownColumns, read_history
from athletes.running.units import Distance, Duration

TODAY = date(2026, 11, 25)


def read(text: str, units: str = "km", **more):  # type: ignore[no-untyped-def]
    return read_history(text, units=units, today=TODAY, **more)


def test_it_works() -> None:
    history = read("date,distance,time\n2026-03-14,10.5,52:10\n2026-03-12,8,40:00\n")
    assert [(r.row, r.day, r.distance, r.time) for r in history.runs] == [
        (3, date(2026, 3, 12), Distance.from_km(8), Duration.from_s(2400)),
        (2, date(2026, 3, 14), Distance(10_500_000), Duration.from_s(3130)),
    ]
    assert history.wrong == ()


@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("2026-03-14,8.5,42:10\n2026-03-15,5,30:00\n", {"day": 0, "distance": 1, "time": 2}),
        ("Lake;14.03.2026;8,5 km;42:10\nRoad;15.03.2026;5 km;30:00\n", {"day": 1, "distance": 2, "time": 3}),
        (
            "14 March 2026\t07:12\t8.5\t42:10\n15 March 2026\t07:30\t5\t30:00\n",
            {"day": 0, "distance": 2, "time": 3},
        ),
        ("\n2026-03-14 07:12,42:10,8.5\n2026-03-15 07:12,30:00,5\n", {"day": 0, "distance": 2, "time": 1}),
    ],
)
def test_without_a_head_the_first_run_is_a_run(text: str, columns: dict[str, int]) -> None:
    """RFC 4180, 2.3: a head is optional."""
    history = read(text)
    assert history.heads.missing
    assert history.columns == columns
    assert [(run.day, run.distance.mm, run.time and run.time.ms) for run in history.runs] == [
        (date(2026, 3, 14), 8_500_000, 2_530_000),
        (date(2026, 3, 15), 5_000_000, 1_800_000),
    ]
    assert history.wrong == ()


def test_without_a_head_days_alone_or_no_distance_are_asked_for() -> None:
    with pytest.raises(UnknownColumns) as asked:
        read("2026-03-14,42:10\n2026-03-15,30:00\n")
    assert asked.value.heads.words() == ("column 1 (2026-03-14)", "column 2 (42:10)")
    assert asked.value.found == {"day": 0, "time": 1}
    with pytest.raises(HistoryError, match="No column for the day and the distance"):
        read("2026-03-14,lake\n2026-03-15,road\n")  # a day and no amount is no run


def test_the_head_of_a_table_may_have_figures() -> None:
    """Names with a figure or a year in them are names."""
    history = read("Runs since 2026-01-01,5 longest,date,km\nx,y,2026-03-14,8\n")
    assert not history.heads.missing
    assert [run.distance.mm for run in history.runs] == [8_000_000]


def test_rows_are_numbered_as_the_spreadsheet_shows_them() -> None:
    history = read("\n\ndate,km\n2026-03-14,5\n\nyesterday,6\n")
    assert [run.row for run in history.runs] == [4]
    assert [wrong.row for wrong in history.wrong] == [6]


def test_a_spreadsheets_own_kind() -> None:
    """Semicolons, a comma in the number, days with dots, a byte order mark, columns in another order, a title first."""
    history = read("\ufeffName;Moving time;Distance (km);Date\nLake;1:02:00;12,4;3.4.2026\n")
    assert history.runs[0].day == date(2026, 4, 3)
    assert history.runs[0].distance == Distance(12_400_000)
    assert history.runs[0].time == Duration.from_s(3720)


def test_miles_by_head_or_by_the_athlete() -> None:
    assert read("date,miles\n2026-03-14,5\n").runs[0].distance == Distance(8_046_720)
    assert read("date,distance\n2026-03-14,5\n", "mi").runs[0].distance == Distance(8_046_720)
    assert read("date,distance (m)\n2026-03-14,8000\n", "mi").runs[0].distance == Distance.from_km(8)


def test_the_month_comes_first_where_a_day_shows_it() -> None:
    history = read("date,km\n3/14/2026,5\n3/4/2026,6\n")
    assert history.month_first
    assert [run.day for run in history.runs] == [date(2026, 3, 4), date(2026, 3, 14)]
    assert read("date,km\n3/4/2026,6\n").runs[0].day == date(2026, 4, 3)
    assert read("date,km\n3/4/2026,6\n", month_first=True).runs[0].day == date(2026, 3, 4)


def test_time_in_minutes_or_seconds_by_head() -> None:
    assert read("date,km,time (min)\n2026-03-14,5,25.5\n").runs[0].time == Duration.from_s(1530)
    assert read("date,km,seconds\n2026-03-14,5,1500\n", columns={"day": 0, "distance": 1, "time": 2}).runs[
        0
    ].time == Duration.from_s(1500)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("31.2.2026,5,25:00", "no day"),
        ("yesterday,5,25:00", "no day"),
        ("2026-12-01,5,25:00", "still to come"),
        ("2019-12-01,5,25:00", "more than five years"),
        ("2026-03-14,abc,25:00", "not a distance"),
        ("2026-03-14,NaN,25:00", "not a distance"),
        ("2026-03-14,-5,25:00", "not a distance"),
        ("2026-03-14,900,25:00", "further than 250 km"),
        ("2026-03-14,5,3:00", "nobody runs like that"),
        ("2026-03-14,,25:00", "distance"),
    ],
)
def test_a_bad_row_is_told_and_the_others_are_read(row: str, why: str) -> None:
    history = read(f"date,distance,time\n{row}\n2026-03-15,6,30:00\n")
    assert [wrong.row for wrong in history.wrong] == [2]
    assert why in history.wrong[0].why
    assert len(history.runs) == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("\n\n", "empty"),
        (",", "empty"),
        ("a,b\n1,2\n", "No column for the day and the distance"),
        ("date,time\n2026-03-14,25:00\n", "No column for the distance"),
        ("date,km\n", "no run under it"),
        ("PK\0\0", "no CSV"),
        ("date,km\n" + "2026-03-14,5\n" * (MOST_ROWS + 1), "at most 5000"),
    ],
)
def test_a_file_that_is_no_table_of_runs(text: str, said: str) -> None:
    with pytest.raises(HistoryError, match=said):
        read(text)
