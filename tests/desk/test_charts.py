"""The pictures: their marks, their words, their figures. Coordinates are worked out by hand."""

import re
import xml.etree.ElementTree as ET

import pytest
from django.template import Context, Template

from coaching.charts import (
    DayBar,
    Prediction,
    Stretch,
    WeekBar,
    effort_over_time,
    last_weeks,
    prediction_spread,
    season_volume,
    way_to_race,
    week_strip,
)
from coaching.effort_chart import EffortWeek, Mean, effort_against_plan
from plans.drawing import cross, dot, number, rect

KM = 1_000_000
SVG = "{http://www.w3.org/2000/svg}"
WEEK = [
    DayBar("Mon", 8 * KM, 8_100_000),
    DayBar("Tue", 10 * KM, 0, key=True, missed=True),
    DayBar("Wed"),
    DayBar("Thu", 5 * KM, 6 * KM, today=True),
    DayBar("Fri", other=True, done=True),
    DayBar("Sat", 0, 3 * KM),
    DayBar("Sun", 20 * KM, 0, key=True),
]
SEASON = [
    WeekBar("Week 1", 40 * KM, 38 * KM, 14 * KM, 14 * KM, "Settle in"),
    WeekBar("Week 2", 44 * KM, 20 * KM, 16 * KM, 0),
    WeekBar("Week 3", 50 * KM, None, 18 * KM),
]


def parsed(svg):
    return ET.fromstring(svg)


def paths(svg):
    """Path data by class; a kind that was not drawn is absent."""
    return {node.get("class"): node.get("d") for node in parsed(svg).iter(f"{SVG}path")}


def boxes(data):
    """The rectangles in path data as (x, y, width, height)."""
    found = re.findall(r"M(\S+) (\S+)h(\S+)v(\S+)h\S+z", data or "")
    return [tuple(map(float, box)) for box in found]


def title(svg):
    return parsed(svg).find(f"{SVG}title").text


def test_a_strip_says_the_week_in_words():
    assert title(week_strip(WEEK)) == (
        "Mon: 8 km planned, 8.1 km run; Tue: 10 km planned, missed, key session; Wed: rest; "
        "Thu, today: 5 km planned, 6 km run; Fri: other session done; Sat: nothing planned, 3 km run; "
        "Sun: 20 km planned, key session"
    )


def test_a_strip_says_it_in_miles():
    assert title(week_strip([DayBar("Mon", 8_046_720)], units="mi")) == "Mon: 5 mi planned"


def test_a_strip_draws_each_kind_of_day_with_its_own_mark():
    drawn = paths(week_strip(WEEK))
    # Slots are 13 wide, bars 9 from x + 1; 20 km is the full 19 high and the floor is at 21.
    # Planned: Monday 8 of 20 km is 7.6 high, Thursday 4.75; outlines stand half a point inside.
    assert boxes(drawn["c-plan"]) == [(1.5, 13.9, 8, 6.6), (40.5, 16.75, 8, 3.75)]
    assert boxes(drawn["c-key"]) == [(14.5, 12.0, 8, 8.5), (79.5, 2.5, 8, 18)]
    # Run: Monday 8.1 km 7.7 high, Thursday 5.7, Friday's other session a low block, Saturday 2.85.
    assert boxes(drawn["c-run"]) == [
        (3, 13.3, 5, 7.7),
        (42, 15.3, 5, 5.7),
        (55, 17.5, 5, 3),
        (68, 18.15, 5, 2.85),
    ]
    assert drawn["c-miss"] == cross(18.5, 16.25, 3)
    assert drawn["c-rest"] == dot(31.5, 19, 1.4)
    assert drawn["c-now"] == rect(40, 22.2, 9, 1.6)


def test_a_strip_beyond_its_scale_stays_inside_the_picture():
    drawn = paths(week_strip([DayBar("Mon", 10 * KM, 40 * KM)], full_mm=20 * KM))
    assert boxes(drawn["c-run"]) == [(3, 2, 5, 19)]


def test_an_empty_week_is_seven_dots():
    drawn = paths(week_strip([DayBar(name) for name in "MTWTFSS"]))
    assert set(drawn) == {"c-rest"}
    assert drawn["c-rest"].count("M") == 7


def test_the_last_weeks_stand_on_one_scale():
    svg = last_weeks([WeekBar("3 weeks ago", 40 * KM, 20 * KM), WeekBar("2 weeks ago", 20 * KM, 0)])
    assert title(svg) == "3 weeks ago: 20 km of 40 km; 2 weeks ago: 0 km of 20 km"
    assert boxes(paths(svg)["c-plan"]) == [(1.5, 2.5, 10, 18), (15.5, 12, 10, 8.5)]
    assert boxes(paths(svg)["c-run"]) == [(3.5, 11.5, 6, 9.5)]


def test_a_season_has_its_weeks_long_runs_and_figures():
    chart = season_volume(SEASON, now=1)
    drawn = paths(chart.svg)
    # The scale ends at 60 km, 134 points high: 40 km is 89.33.
    assert [box[3] for box in boxes(drawn["c-plan"])] == [89.33, 98.27, 111.67]
    assert [box[3] for box in boxes(drawn["c-run"])] == [84.87, 44.67]
    assert drawn["c-mark"].count("M") == 2, "a long run that was not run has no mark"
    assert boxes(drawn["c-now"]) == [(320, 177, 26, 2.5)]
    cells = re.findall(r"<t[dh](?: [^>]*)?>([^<]*)", chart.table)
    assert cells[5:] == [
        "Week 1: Settle in", "40 km", "38 km", "14 km", "14 km",
        "Week 2", "44 km", "20 km", "16 km", "0 km",
        "Week 3", "50 km", "", "18 km", "",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("most", "units", "scale"),
    [(70 * KM, "km", ["0", "20", "40", "60", "80"]), (3 * KM, "km", ["0", "1", "2", "3"]),
     (80_467_200, "mi", ["0", "20", "40", "60"]), (0, "km", ["0"])],
)  # fmt: skip
def test_a_season_is_measured_in_round_numbers(most, units, scale):
    svg = season_volume([WeekBar("Week 1", most)], units=units).svg
    texts = [node for node in parsed(svg).iter(f"{SVG}text") if node.get("text-anchor") == "end"]
    assert [node.text for node in texts if node.get("class") == "c-text"] == scale


def test_effort_is_as_wide_as_it_lasts_and_as_tall_as_it_feels():
    chart = effort_over_time(
        [Stretch(600, 2, "easy"), Stretch(300, 8, "3 min at 10K"), Stretch(100, 0, "walk")], width=101
    )
    # A second is a tenth of a point, effort 10 is 70 high, blocks leave 1.5 between them.
    assert boxes(paths(chart.svg)["c-area"]) == [
        (0.5, 60, 58.5, 14),
        (60.5, 18, 28.5, 56),
        (90.5, 72, 8.5, 2),
    ]
    assert title(chart.svg) == "Effort over time: easy 10:00, 3 min at 10K 5:00, walk 1:40"
    assert re.findall(r"<td[^>]*>([^<]*)", chart.table) == [
        "10:00",
        "2 of 10",
        "5:00",
        "8 of 10",
        "1:40",
        "0 of 10",
    ]


def test_a_spread_shows_fast_likely_slow_and_the_goal():
    rows = [Prediction("From the 10K", 10_000_000, 10_500_000, 12_000_000)]
    chart = prediction_spread(rows, goal_ms=11_000_000, width=212)
    drawn = paths(chart.svg)
    assert boxes(drawn["c-area"]) == [(6, 21, 200, 6)]
    assert drawn["c-mark"] == dot(56, 24, 5)
    assert drawn["c-goal"] == "M106 18L106 30"
    assert "From the 10K" in chart.table
    assert title(chart.svg) == "From the 10K: 2 h 55, from 2 h 47 to 3 h 20"


def test_the_way_to_the_race_marks_where_you_are():
    svg = way_to_race([30, 60, 40], 1, width=120)
    # Slots of 40, bars 24 wide and up to 38 high on a floor at 50.
    assert boxes(paths(svg)["c-plan"]) == [(0.5, 31, 23, 19), (80.5, 24.67, 23, 25.33)]
    assert boxes(paths(svg)["c-now"]) == [(40.5, 12, 23, 38)]
    assert [node.text for node in parsed(svg).iter(f"{SVG}text")] == ["you are here"]
    assert title(svg) == "3 weeks to the race, you are in week 2"


@pytest.mark.parametrize(("now", "anchor"), [(0, "start"), (9, "middle"), (17, "end")])
def test_the_words_at_the_mark_stay_on_the_picture(now, anchor):
    text = next(parsed(way_to_race([50] * 18, now)).iter(f"{SVG}text"))
    assert text.get("text-anchor") == anchor
    assert 0 <= float(text.get("x")) <= 300


@pytest.mark.parametrize(
    "svg",
    [week_strip([]), last_weeks([]), season_volume([]).svg, effort_over_time([]).svg, prediction_spread([]).svg,
     way_to_race([], None), way_to_race([0, 0], 5)],
)  # fmt: skip
def test_nothing_to_draw_is_still_a_picture(svg):
    assert parsed(svg).tag == f"{SVG}svg"
    assert "nan" not in svg


def all_pictures():
    hard = '"><script>alert(1)</script>'
    return [
        week_strip([*WEEK, DayBar(hard, KM)]), last_weeks(SEASON), season_volume([*SEASON, WeekBar(hard, KM)]),
        effort_over_time([Stretch(60, 5, hard)]), prediction_spread([Prediction(hard, 1, 2, 3)], goal_ms=2),
        way_to_race([1, 2], 0, here=hard),
    ]  # fmt: skip


@pytest.mark.parametrize("made", all_pictures(), ids=["strip", "last", "season", "effort", "spread", "way"])
def test_a_picture_keeps_the_content_policy_and_escapes_words(made):
    text = str(made)
    assert "style" not in text
    assert "<script" not in text
    assert 'role="img"' in text
    assert "<title>" in text


def test_a_chart_in_a_template_is_a_figure_with_its_table():
    shown = Template("{{ chart }}").render(Context({"chart": season_volume(SEASON)}))
    assert shown.startswith('<figure class="chart"><svg')
    assert shown.count('<th scope="row">') == 3


def test_numbers_are_short():
    assert [number(n) for n in (0, 0.001, 1.50, 2.125, -3.0)] == ["0", "0", "1.5", "2.12", "-3"]


def tips(svg):
    """What shows under a finger, and the box that it shows for."""
    found = []
    for group in parsed(svg).iter(f"{SVG}g"):
        box, words = group
        found.append((words.text, float(box.get("x")), float(box.get("width")), words.get("opacity")))
    return found


def test_a_season_tells_a_weeks_figures_under_a_finger_and_not_on_paper():
    # Slots of (640 - 30 - 4) / 3 = 202.
    assert tips(season_volume(SEASON).svg) == [
        ("Week 1: 38 km of 40 km, long run 14 km of 14 km", 30, 202, "0"),
        ("Week 2: 20 km of 44 km, long run 0 km of 16 km", 232, 202, "0"),
        ("Week 3: 50 km, long run 18 km", 434, 202, "0"),
    ]


EFFORTS = [
    EffortWeek("Week 1", Mean(3.0, 3.5, 2), Mean(7.0, 8.0, 1)),
    EffortWeek("Week 2"),
    EffortWeek("Week 3", Mean(3.0, 5.0, 3)),
]


def test_effort_against_plan_lays_given_inside_asked():
    chart = effort_against_plan(EFFORTS)
    drawn = paths(chart.svg)
    # 134 high for ten steps from the floor at 160: 3 is 40.2, 3.5 is 46.9, 7 is 93.8, 8 is 107.2, 5 is 67.
    # Slots of 202, the middle of the first at 131; bars 14 wide.
    assert boxes(drawn["c-plan"]) == [(116.5, 119.8, 14, 40.2), (520.5, 119.8, 14, 40.2)]
    assert boxes(drawn["c-key"]) == [(131.5, 66.2, 14, 93.8)]
    assert boxes(drawn["c-run"]) == [(118.5, 113.1, 10, 46.9), (133.5, 52.8, 10, 107.2), (522.5, 93, 10, 67)]
    assert [words for words, *_ in tips(chart.svg)] == [
        "Week 1: easy 3.5 for 3.0, hard 8.0 for 7.0",
        "Week 3: easy 5.0 for 3.0",
    ]
    assert '<td class="num">5.0</td>' in chart.table
    assert "Week 2" not in chart.table


def test_no_effort_given_is_no_picture():
    assert effort_against_plan([EffortWeek("Week 1")]) is None
