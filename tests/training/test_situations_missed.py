"""Named situations, before and after, as a coach would sign them: runs missed within ordinary life.

A board line reads `week kind  Tue Q10>E5`: what was written, and what it becomes.
"""

from dataclasses import replace

from plans.training.replanning import rebalance
from plans.training.schedule import Log
from tests.training.planning import KM, day, done_until, issued, missed, ran, table, week_totals, write

BUILD = "build: Tue Q10 Wed E8 Thu Q8s Sat E8 Sun L20"  # 54 km
PLAN = (f"2x {BUILD}", "recovery: Tue Q8 Wed E6 Thu E6 Sat E6 Sun L14", f"3x {BUILD}")


def plan(*lines, **given):
    given.setdefault("weekly_mm", 54 * KM)
    given.setdefault("longest_mm", 20 * KM)
    return write(*(lines or PLAN), **given)


def board(inputs):
    return table(inputs, rebalance(inputs))


def test_01_a_single_easy_run_missed_changes_nothing():
    athlete = missed(done_until(plan(), day(2, "Wed")), day(2, "Wed"), why="time")
    assert board(replace(athlete, today=day(2, "Thu"))) == "as planned"


def test_02_quality_missed_on_tuesday_with_quality_on_thursday_is_let_go():
    athlete = missed(done_until(plan(), day(2, "Tue")), day(2, "Tue"), why="time")
    assert board(replace(athlete, today=day(2, "Wed"))) == "as planned"


def test_03_quality_missed_on_tuesday_for_lack_of_time_moves_to_a_free_day():
    easy_week = plan("2x build: Tue Q10 Wed E8 Thu E8 Sat E8 Sun L20", *PLAN[1:])
    athlete = missed(done_until(easy_week, day(2, "Tue")), day(2, "Tue"), why="time")
    result = rebalance(replace(athlete, today=day(2, "Wed")))
    # Friday is free and two days before Sunday; Wednesday and Thursday would cost an easy run.
    assert result.placed("2Tue").day == day(2, "Fri")
    assert [p.key for p in result.departures] == ["2Tue"]
    assert result.placed("2Tue").reason.sentence == (
        "Quality session from Tue to Fri: missed on Tue for lack of time; Fri has room for it."
    )


def test_03b_without_a_free_day_it_takes_an_easy_day():
    full = plan("2x build: Mon E6 Tue Q10 Wed E8 Thu E8 Sat E8 Sun L20", *PLAN[1:])
    athlete = missed(done_until(full, day(2, "Tue")), day(2, "Tue"), why="time")
    athlete = replace(athlete, today=day(2, "Wed"), minutes={day(2, "Fri"): 0})
    # Wednesday, the nearest; its easy run is not made up
    assert board(athlete).splitlines()[0] == " 2 build    Tue>Wed Q10  Wed E8>out  Thu E8  Sat E8  Sun L20"


def test_04_quality_missed_tired_is_not_made_up():
    easy_week = plan("2x build: Tue Q10 Wed E8 Thu E8 Sat E8 Sun L20", *PLAN[1:])
    athlete = missed(done_until(easy_week, day(2, "Tue")), day(2, "Tue"), why="tired")
    assert board(replace(athlete, today=day(2, "Wed"))) == "as planned"


def test_05_the_long_run_missed_on_sunday_is_not_made_up_on_monday():
    athlete = done_until(missed(plan(), day(2, "Sun"), why="time"), day(3))
    assert board(athlete) == "as planned"  # a recovery week comes anyway, and the week before was done


def test_06_the_long_run_missed_on_saturday_moves_to_sunday():
    saturday = plan("4x build: Tue Q10 Wed E8 Thu E8 Sat L20 Sun E8")
    athlete = missed(done_until(saturday, day(2, "Sat")), day(2, "Sat"), why="travel")
    assert board(replace(athlete, today=day(2, "Sun"))) == " 2 build    Sat>Sun L20  Sun E8>out"


def test_07_a_long_run_cut_to_sixty_per_cent_counts_as_a_week_done():
    # 46 of 54 km, and 208 of 216 in four weeks: more than 80 and 92 %
    athlete = done_until(ran(plan(), "2Sun", 12), day(3))
    assert board(athlete) == "as planned"


def test_08_a_long_run_cut_short_before_a_bigger_one_slows_the_next():
    growing = plan("build: Tue E10 Thu E10 Sat E10 Sun L16", "build: Tue E10 Thu E10 Sat E10 Sun L20",
                   "2x build: Tue E10 Thu E10 Sat E12 Sun L24", longest_mm=16 * KM, weekly_mm=46 * KM)  # fmt: skip
    athlete = done_until(ran(growing, "2Sun", 12), day(3))
    # longest of 30 days 16 instead of 20: 24/20 of 16 is 19.2; then 19 and 2 km more
    assert (
        board(athlete)
        == " 3 build    Tue E10  Thu E10  Sat E12  Sun L24>19\n 4 build    Tue E10  Thu E10  Sat E12  Sun L24>21"
    )


def test_09_three_quarters_of_everything_for_four_weeks():
    growing = plan("4x build: Tue Q10 Wed E8 Thu E8 Sat E12 Sun L20", "4x build: Tue Q10 Wed E10 Thu E10 Sat E12 Sun L22",
                   weekly_mm=58 * KM)  # fmt: skip
    athlete = growing
    for s in growing.plan:
        if s.day < day(5):
            athlete = replace(
                athlete, logs=(*athlete.logs, Log(s.day, s.key, "part", s.mm * 3 // 4, s.s * 3 // 4))
            )
    result = rebalance(replace(athlete, today=day(5)))
    # 43.5 km a week for four weeks; 58 was held in the weeks before, so the way back is a quarter: 54;
    # beyond that ground a tenth: 59, then the plan
    assert week_totals(result) == [54, 59, 64, 64]


def test_10_seventy_nine_per_cent_never_counts_as_done():
    athlete = plan(f"8x {BUILD}")
    for s in athlete.plan:
        if s.day < day(5):
            athlete = replace(athlete, logs=(*athlete.logs, Log(s.day, s.key, "part", s.mm * 79 // 100, s.s)))
    assert rebalance(replace(athlete, today=day(5))).weeks[0].reference < 54 * KM


def test_11_missed_everything_and_said_nothing_is_asked_first():
    athlete = done_until(plan(), day(2))
    result = rebalance(replace(athlete, today=day(2, "Fri")))
    assert result.changes == ()
    assert [v.name for v in result.verdicts] == ["silence"]
    assert (
        result.verdicts[0].sentence
        == "No word about 3 run days since Tuesday 13 Jan: ask before anything is changed."
    )


def test_12_two_silent_days_are_two_missed_runs():
    athlete = replace(done_until(plan(), day(2)), today=day(2, "Thu"))
    assert [v.name for v in rebalance(athlete).verdicts] == []


def test_13_ran_too_much_early_in_the_week_costs_easy_running_only():
    athlete = done_until(plan(), day(2, "Thu"))
    athlete = replace(athlete, logs=(*athlete.logs, Log(day(2), None, "done", 18 * KM, 6480)))
    assert board(athlete) == " 2 build    Thu Q8  Sat E8>4  Sun L20"


def test_14_ran_too_much_last_week_lifts_nothing_above_the_plan():
    athlete = done_until(plan(), day(2))
    athlete = replace(athlete, logs=(*athlete.logs, Log(day(1, "Fri"), None, "done", 25 * KM, 9000)))
    assert board(athlete) == "as planned"


def test_15_sunday_short_of_time_with_saturday_free_changes_places():
    week = plan("3x build: Tue Q10 Wed E8 Sat E8 Sun L20")
    athlete = replace(
        done_until(week, day(2)), minutes={day(2, "Sun"): 60, day(2, "Sat"): 180, day(2, "Fri"): 0}
    )
    assert board(athlete) == " 2 build    Tue Q10  Wed E8  Sat>Sun E8  Sun>Sat L20"


def test_16_sunday_gone_and_no_other_day_long_enough_takes_the_long_run_out():
    athlete = replace(
        done_until(plan(), day(2)),
        minutes={day(2, "Sun"): 0} | {day(2, d): 75 for d in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat")},
    )
    result = rebalance(athlete)
    assert table(athlete, result) == " 2 build    Tue Q10  Wed E8  Thu Q8  Sat E8  Sun L20>out"
    assert [r.words for r in result.placed("2Sun").reason.refused][:2] == [
        "Mon: 75 min free, 120 min needed", "Tue: 75 min free, 120 min needed",
    ]  # fmt: skip


def test_17_an_easy_day_gone_moves_its_run_to_a_free_day():
    athlete = replace(done_until(plan(), day(2)), minutes={day(2, "Wed"): 0})
    assert board(athlete) == " 2 build    Tue Q10  Wed>Mon E8  Thu Q8  Sat E8  Sun L20"


def test_18_a_day_of_rest_is_kept():
    six = plan("3x build: Mon E6 Tue Q10 Wed E6 Thu E6 Fri E6 Sun L20")
    athlete = replace(done_until(six, day(2)), minutes={day(2, "Wed"): 0})
    # Saturday is free, but it is the day before the long run only an easy run needs: it moves there
    assert board(athlete) == " 2 build    Mon E6  Tue Q10  Wed>Sat E6  Thu E6  Fri E6  Sun L20"


def test_19_quality_never_lands_next_to_quality_or_the_long_run():
    athlete = replace(done_until(plan(), day(2)), minutes={day(2, "Tue"): 0})
    result = rebalance(athlete)
    assert [r.words for r in result.placed("2Tue").reason.refused] == [
        "Mon: one day after Sun's long run",  # last week's: the border between weeks counts
        "Wed: one day before Thu's quality session",
        "Thu: already has a run",
        "Fri: one day after Thu's quality session",
        "Sat: one day before Sun's long run",
        "Sun: already has a run",
    ]
    assert table(athlete, result) == " 2 build    Tue Q10>out  Wed E8  Thu Q8  Sat E8  Sun L20"


def test_20_pins_stand_and_the_conflict_is_told():
    athlete = plan(
        "2x build: Tue Q10 Wed E8 Thu E8 Sat E8 Sun L20", "4x build: Tue Q10 Wed E8 Thu E8 Sat E8 Sun L20!"
    )
    athlete = done_until(missed(athlete, day(1), day(2, "Sun"), "ill"), day(3))
    result = rebalance(athlete)
    assert result.placed("3Sun").mm == 20 * KM
    assert result.conflicts[0].sentence == (
        "Long run on Sun 25 Jan is fixed at 20 km, where the guard rails allow 13 km; only 13 km count for later weeks."
    )
    again = rebalance(done_until(issued(athlete, result), day(4)))
    assert again.weeks[0].reference <= 35 * KM


RISING = (
    "base: Tue Q8 Wed E8 Thu E8 Sat E8 Sun L18", "build: Tue Q8 Wed E8 Thu E9 Sat E8 Sun L20",
    "build: Tue Q10 Wed E8 Thu E10 Sat E8 Sun L22", "recovery: Tue Q8 Wed E6 Thu E8 Sat E6 Sun L16",
    "build: Tue Q10 Wed E8 Thu E10 Sat E9 Sun L24", "build: Tue Q10 Wed E10 Thu E10 Sat E10 Sun L26",
)  # fmt: skip


def rising(**given):
    return plan(*RISING, weekly_mm=48 * KM, longest_mm=17 * KM, **given)


def test_37_one_missed_long_run_of_a_rising_plan_costs_long_runs_and_nothing_else():
    athlete = done_until(missed(rising(), day(2, "Sun"), why="time"), day(3))
    # 33 of 53 km: one light week. The long runs follow what was run: 18, then 2 km more each
    assert board(athlete) == "\n".join([
        " 3 build    Tue Q10  Wed E8  Thu E10  Sat E8  Sun L22>20",
        " 5 build    Tue Q10  Wed E8  Thu E10  Sat E9  Sun L24>22",
        " 6 build    Tue Q10  Wed E10  Thu E10  Sat E10  Sun L26>24",
    ])  # fmt: skip


def test_38_two_light_weeks_in_a_row_are_not_looked_past():
    light = missed(missed(rising(), day(2, "Sun"), why="time"), day(3, "Sat"), day(3, "Sun"), why="time")
    result = rebalance(done_until(light, day(4)))
    assert result.weeks[0].reference < 45 * KM
    assert week_totals(result)[1] < 53


def test_39_too_much_on_a_free_day_leaves_the_long_runs_of_the_month_alone():
    athlete = done_until(rising(), day(3, "Wed"))
    athlete = replace(athlete, logs=(*athlete.logs, Log(day(3), None, "done", 12 * KM, 4320)))
    # 70 km would be run where 58 and 4 % may be: 10 km off easy running
    assert board(athlete) == " 3 build    Wed E8>6  Thu E10>5  Sat E8>5  Sun L22"
    assert rebalance(athlete).placed("3Thu").reason.sentence == (
        "Easy run 10 km to 5 km: 12 km more than planned were run this week; "
        "easy runs are halved before quality is touched."
    )


def test_40_what_was_cut_is_not_changed_again_for_a_kilometre():
    first = done_until(missed(rising(), day(2, "Sun"), why="time"), day(3))
    stands = issued(first, rebalance(first))
    long = replace(stands, logs=(*stands.logs, Log(day(2), None, "done", 19 * KM, 6840)), today=day(3, "Tue"))
    # with 19 km as the longest of the month 21 would be allowed on Sunday, and so on: not worth a line
    assert rebalance(long).changes == ()
    assert rebalance(replace(long, standing={})).placed("3Sun").mm == 21 * KM


def test_41_two_runs_a_week_are_no_seven_days_off():
    athlete = done_until(missed(plan("6x build: Tue E8 Sun L16", weekly_mm=24 * KM), day(2, "Sun")), day(3))
    assert rebalance(athlete).breaks == ()
    assert board(athlete) == "as planned"


def test_42_a_run_that_moves_and_is_run_easy_says_both():
    week = plan("4x build: Tue Q10 Wed E8 Sat E8 Sun L20")
    athlete = done_until(missed(week, day(1), day(2, "Sun"), "ill"), day(3))
    away = replace(athlete, minutes={day(3, "Tue"): 0})
    assert rebalance(away).placed("3Tue").reason.sentence == (
        "Quality session from Tue to Mon, 10 km to 8 km, run easy: Tue is not free; "
        "13 days off ill, no quality for 7 days, and the week may be 35.1 km."
    )
