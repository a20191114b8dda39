import pytest
from hypothesis import given

from athletes.running.goals import judge_goal, result_needed
from athletes.running.performance import Result, ResultError
from athletes.running.predictions import predictions
from athletes.running.units import FIVE_K, HALF_MARATHON, MARATHON, TEN_K, Distance, Duration, parse_duration
from tests.running.strategies import race_distances, results, weekly_distances

# 10K in 40:00 and 40 miles a week: the survey model says 3:18:17 (sources.md, 3), 3:03:17 to 3:33:17.
TEN = Result(TEN_K, parse_duration("40:00"))
WEEK = Distance.from_miles(40)


def judge(clock, **options):
    return judge_goal(parse_duration(clock), predictions(TEN, MARATHON, WEEK), WEEK, **options)


class TestVerdict:
    @pytest.mark.parametrize(
        ("clock", "verdict"),
        [
            ("3:45:00", "inside"),
            ("3:18:00", "inside"),
            ("3:14:20", "inside"),  # 2 % faster than 3:18:17 is 3:14:19
            ("3:14:15", "brave"),
            ("3:03:20", "brave"),
            ("3:03:10", "beyond"),
            ("2:40:00", "beyond"),
        ],
    )
    def test_by_goal(self, clock, verdict):
        assert judge(clock).verdict == verdict

    def test_words_carry_the_numbers(self):
        assert judge("3:10:00", units="mi").words == (
            "The goal: marathon in 3:10:00. From 10K in 40:00 and 40 mi a week, Vickers & Vertosick 2016, one "
            "race expects about 3 h 18, likely between 3 h 03 and 3 h 33. The goal is 8 min (4.2 %) faster. "
            "That is brave: inside the range, at its fast end."
        )

    def test_goal_slower_than_predicted(self):
        assert "The goal is 7 min (3.4 %) slower." in judge("3:25:00").words

    def test_what_a_coach_might_do(self):
        assert judge("3:20:00").might == ("Keep it, and look again after the next race or time trial.",)
        brave, beyond = judge("3:10:00").might, judge("2:50:00").might
        assert brave[0].startswith("Ask for a 10K in about 38:5")
        assert brave[-1] == "Agree on a second goal for the day, about 3 h 18."
        assert beyond[-1] == "Agree on a goal nearer 3 h 18, or keep this one for a later race."

    def test_nothing_to_judge_by(self):
        judgement = judge_goal(parse_duration("3:30:00"), predictions([], MARATHON))
        assert judgement.verdict == "unknown"
        assert judgement.might == ("Add a race result or a time trial.",)

    @pytest.mark.parametrize(
        ("clock", "sentence"),
        [
            ("3:10", "For hours write 3:10:00"),
            ("1:50:00", "faster than anyone has run"),
            ("20:00:00", "slower than"),
        ],
    )
    def test_absurd_goal_is_refused_in_a_sentence(self, clock, sentence):
        with pytest.raises(ResultError, match=sentence):
            judge(clock)


class TestResultNeeded:
    def test_puts_the_goal_inside_and_ten_seconds_slower_does_not(self):
        goal = parse_duration("3:10:00")
        needed = result_needed(goal, MARATHON, TEN_K, WEEK)
        for result, verdict in ((needed, "inside"), (Duration(needed.ms + 10_000), "brave")):
            outlook = predictions(Result(TEN_K, result), MARATHON, WEEK)
            assert judge_goal(goal, outlook, WEEK).verdict == verdict

    def test_a_kilometre_is_too_short_to_tell(self):
        # It would have to be run in under 3.5 minutes, which no formula covers.
        assert result_needed(parse_duration("16:00"), FIVE_K, Distance.from_km(1), WEEK) is None

    def test_over_a_longer_race_there_is_none(self):
        assert result_needed(parse_duration("20:00"), FIVE_K, HALF_MARATHON, WEEK) is None


@given(results(), results(race_distances), weekly_distances)
def test_every_believable_goal_gets_a_verdict_and_advice(result, goal, weekly):
    judgement = judge_goal(goal.duration, predictions(result, goal.distance, weekly), weekly)
    assert judgement.words
    assert judgement.might
