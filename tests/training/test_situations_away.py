"""Named situations, before and after: breaks, travel, health, races. See the missed ones for the notation."""

from dataclasses import replace
from datetime import timedelta

from plans.training.replanning import rebalance
from plans.training.schedule import Away, Hold
from tests.training.planning import KM, day, done_until, follow, issued, missed, table, week_totals, write

BUILD = "build: Tue Q10 Wed E8 Thu E8 Sat E8 Sun L20"  # 54 km
SEASON = (
    f"3x {BUILD}",
    "recovery: Tue Q8 Wed E6 Thu E6 Sat E6 Sun L14",
    "3x build: Tue Q10 Wed E8 Thu E10 Sat E8 Sun L24(6)",
    "recovery: Tue Q8 Wed E6 Thu E6 Sat E6 Sun L16",
    "2x build: Tue Q12 Wed E8 Thu E10 Sat E8 Sun L28",
    "peak: Tue Q12 Wed E8 Thu E10 Sat E8 Sun L32",
    "taper: Tue Q10 Wed E8 Thu E8 Sat E6 Sun L20",
    "taper: Tue Q8 Wed E6 Thu E6 Sat E5 Sun L14",
    "race: Tue Q6 Wed E5 Thu E4 Sun R42",
)


def season(*lines, **given):
    given.setdefault("weekly_mm", 54 * KM)
    given.setdefault("longest_mm", 20 * KM)
    given.setdefault("race_day", day(14, "Sun"))
    given.setdefault("race_mm", 42_195_000)
    given.setdefault("minimum_long_mm", 26 * KM)
    return write(*(lines or SEASON), **given)


def off(first, last, why, back, athlete=None):
    return done_until(missed(athlete or season(), first, last, why), back)


def board(inputs, weeks=99):
    return table(inputs, rebalance(inputs), weeks)


def names(result):
    return [v.name for v in result.verdicts]


def test_21_a_cold_for_five_days_gives_one_smaller_week_without_quality_at_first():
    athlete = off(day(5), day(5, "Sat"), "ill", day(5, "Sun"))
    # off from Tuesday's run to Sunday: 5 days, 80 % of 54, no quality for 3 days, then one at 60 %
    # on from there by the rails; the recovery and taper weeks stay: 66 of 70 km is a peak all the same
    assert board(athlete) == "\n".join([
        " 5 build    Sun L24(6)>16 eased",
        " 6 build    Tue Q10>E8  Wed E8>6  Thu E10>7  Sat E8>6  Sun L24(6)>16 eased",
        " 7 build    Tue Q10>8@60  Wed E8  Thu E10  Sat E8  Sun L24(6)>20 eased",
        " 9 build    Tue Q12  Wed E8  Thu E10  Sat E8  Sun L28>23",
        "10 build    Tue Q12  Wed E8  Thu E10  Sat E8  Sun L28>25",
        "11 peak     Tue Q12  Wed E8  Thu E10  Sat E8  Sun L32>28",
    ])  # fmt: skip
    assert week_totals(rebalance(athlete))[:4] == [16, 43, 54, 42]


def test_22_flu_for_fourteen_days():
    athlete = off(day(5), day(6, "Sun"), "ill", day(7))
    result = rebalance(athlete)
    # 65 % of the larger of 40 (the recovery week before) and the mean of four, 50.5: 32.8
    # then a recovery week of 42 with 1 km less of quality; a quarter more than 32 is 40, within 4 % of 41
    assert week_totals(result)[:2] == [32, 41]
    first = [p for p in result.sessions if p.day < day(8)]
    assert not any(p.level == 1 and p.key == "7Tue" and not p.turned_easy for p in first)
    assert result.placed("7Sun").mm == 13 * KM  # 65 % of 20
    assert result.placed("7Sun").eased


def test_23_travel_for_ten_days_with_two_days_free():
    away = Away(day(5, "Mon"), day(6, "Wed"), travel=True)
    minutes = {day(5) + timedelta(days=n): 0 for n in range(10)} | {day(5, "Thu"): 50, day(5, "Sun"): 60}
    athlete = done_until(season(minutes=minutes, away=(away,)), day(5))
    result = rebalance(athlete)
    kept = [(p.key, p.day, p.mm // KM) for p in result.sessions if p.day < day(6, "Thu") and not p.dropped]
    assert kept == [("5Thu", day(5, "Thu"), 8), ("5Sun", day(5, "Sun"), 10)]
    assert not any(v == "not_recoverable" for v in names(result))


def test_23b_after_travel_the_way_back_is_quicker():
    ill = off(day(5), day(7, "Sun"), "ill", day(8), season(f"12x {BUILD}", race_day=None))
    away = replace(ill, away=(Away(day(5), day(7, "Sun"), travel=True),))
    assert week_totals(rebalance(ill))[:3] == [27, 33, 41]
    assert week_totals(rebalance(away))[:3] == [27, 35, 46]  # a third over 27, over 35


def test_24_injured_for_six_weeks_with_eight_to_go_is_not_pretended_away():
    athlete = off(day(1), day(6, "Sun"), "hurt", day(7))
    result = rebalance(athlete)
    # 40 % x 75 % of 54: 16 km
    assert week_totals(result)[0] == 16
    assert "not_recoverable" in names(result)
    assert all(p.turned_easy or p.dropped for p in result.sessions if "Tue" in p.key and p.day < day(9))


def test_25_injured_three_weeks_before_the_race_waits_for_clearance():
    athlete = done_until(season(holds=(Hold(day(11, "Mon"), True, hurt=True),)), day(11))
    result = rebalance(athlete)
    assert all(p.dropped for p in result.sessions if p.key != "14Sun")
    assert not result.placed("14Sun").dropped
    assert result.shown_until == day(13)
    assert "The race waits for clearance." in result.verdicts[0].sentence
    assert rebalance(done_until(issued(athlete, result), day(12))).changes == ()


def test_26_a_cleared_hold_is_a_break_and_the_way_back_begins():
    athlete = done_until(season(holds=(Hold(day(5, "Mon"), True, hurt=True),)), day(5))
    held = issued(athlete, rebalance(athlete))
    cleared = replace(held, holds=(Hold(day(5, "Mon"), True, hurt=True, closed=day(7)),), today=day(7))
    result = rebalance(cleared)
    assert [(b.days, b.hurt) for b in result.breaks] == [(14, True)]
    assert week_totals(result)[0] == 24  # 65 % x 75 % of 50.5
    assert rebalance(follow(cleared, day(8))).changes == ()


def test_27_a_head_cold_keeps_running_without_quality_and_without_steps_up():
    athlete = done_until(season(holds=(Hold(day(5, "Mon"), False),)), day(5))
    result = rebalance(athlete)
    assert (
        table(athlete, result, 5) == " 5 build    Tue Q10>E10  Wed E8  Thu E10>8  Sat E8  Sun L24(6)>20 eased"
    )


def test_28_the_missed_peak_long_run_puts_the_goal_at_risk_and_is_not_stacked():
    athlete = off(day(11, "Sun"), day(11, "Sun"), "time", day(12))
    result = rebalance(athlete)
    assert week_totals(result)[0] <= 52
    assert names(result) == []  # 28 of 32 is 87 %: not yet at risk
    earlier = off(day(10, "Sun"), day(10, "Sun"), "time", day(11))
    assert rebalance(earlier).placed("11Sun").mm == 32 * KM  # 28 was run a week before: the coach's own step


def test_29_a_tune_up_race_takes_the_long_run_and_calms_the_days_around():
    lines = list(SEASON)
    lines[2] = "3x build: Tue Q10 Wed E8 Thu Q10 Sat E8 Sun L24(6)"
    athlete = season(*lines)
    race = replace(season("build: Sat R10+").plan[0], key="race", day=day(6, "Sat"), slot=1)
    athlete = done_until(replace(athlete, plan=(*athlete.plan, race)), day(6))
    assert (
        board(athlete, 7)
        == " 6 build    Tue Q10  Wed E8  Thu Q10>E10  Sat E8  Sat R10  Sun L24(6)>out\n 7 build    Tue Q10>E10  Wed E8  Thu Q10  Sat E8  Sun L24(6)"
    )


def test_30_a_half_marathon_in_between_bars_quality_for_a_week():
    race = replace(season("build: Sun R21+").plan[0], key="race", day=day(6, "Sun"), slot=1)
    athlete = season()
    athlete = done_until(replace(athlete, plan=(*athlete.plan, race)), day(6))
    result = rebalance(athlete)
    assert result.placed("6Sun").dropped
    assert result.placed("7Tue").turned_easy
    assert result.placed("7Sun").eased  # seven days after 21 km
    assert not result.placed("8Tue").turned_easy


def test_31_in_the_last_week_the_sharpener_may_move_to_wednesday_but_never_nearer():
    athlete = off(day(14, "Tue"), day(14, "Tue"), "time", day(14, "Wed"))
    assert board(athlete) == "14 race     Tue>Wed Q6  Wed E5>out  Thu E4  Sun R42"
    assert board(replace(athlete, today=day(14, "Thu"))) == "as planned"  # three days before: let go
    assert board(off(day(14, "Wed"), day(14, "Wed"), "time", day(14, "Thu"))) == "as planned"


def test_32_the_first_week_missed_altogether_begins_gently():
    athlete = off(day(1), day(1, "Sun"), "ill", day(2))
    # 80 % of the declared 54
    # then the first quality session at 60 %: 52; then the recovery week as written
    assert week_totals(rebalance(athlete))[:3] == [43, 52, 40]


def test_33_a_recovery_week_after_a_lost_week_is_not_waived_by_itself():
    athlete = off(day(3), day(3, "Sun"), "travel", day(4))
    result = rebalance(athlete)
    assert result.weeks[0].kind == "recovery"
    assert week_totals(result)[0] == 40  # 80 % of 54 would be 43: the recovery week as written stands
    assert week_totals(result)[1] > 40


def test_34_a_second_run_of_a_day_goes_first():
    lines = ["5x build: Tue Q10 Wed E8 Wed E5 Thu E8 Sat E8 Sun L20"]
    athlete = off(day(3), day(3, "Sun"), "ill", day(4), season(*lines, weekly_mm=59 * KM))
    result = rebalance(athlete)
    assert week_totals(result)[0] <= 47
    assert result.placed("4Wedb").dropped
    assert "the second run of a day gives way first" in result.placed("4Wedb").reason.sentence


def test_35_minutes_stay_minutes():
    timed = ["4x build: Tue E50' Thu E50' Sat E40' Sun L120'"]
    athlete = off(day(2), day(2, "Sun"), "ill", day(3), write(*timed))
    assert board(athlete) == " 3 build    Tue E50'>40'  Thu E50'>40'  Sat E40'>30'  Sun L120'>95'"
    assert rebalance(athlete).placed("3Sun").reason.sentence == (
        "Long run 2 h 00 to 95 min: 7 days off ill, at first no long run over 80 % of 2 h 00."
    )


def test_36_miles_are_cut_in_half_miles():
    athlete = replace(off(day(5), day(6, "Sun"), "ill", day(7)), units="mi")
    result = rebalance(athlete)
    long = result.placed("7Sun")
    assert long.mm % 804_672 == 0
    assert "8 mi" in long.reason.sentence


def test_43_a_half_marathon_put_in_is_no_planned_peak_the_taper_is_measured_from():
    race = replace(season("build: Sun R21+").plan[0], key="race", day=day(6, "Sun"), slot=1)
    result = rebalance(done_until(replace(season(), plan=(*season().plan, race)), day(6)))
    assert [p.key for p in result.departures if p.day >= day(9)] == []


def test_44_a_long_run_made_up_for_under_a_fresh_hold_has_no_hard_part():
    thursday = season("4x build: Tue Q10 Thu L24(6) Sat E8 Sun E8", race_day=None)
    missed_it = missed(done_until(thursday, day(3, "Thu")), day(3, "Thu"), why="time")
    held = replace(missed_it, today=day(3, "Fri"), holds=(Hold(day(3, "Fri"), False),))
    made_up = rebalance(held).placed("3Thu")
    assert (made_up.day, made_up.eased) == (day(3, "Fri"), True)
