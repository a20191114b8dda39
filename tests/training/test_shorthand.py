"""Sessions as coaches type them: what is understood, in how many spellings, and what is said when it is not."""

import pytest

from plans.training.mistakes import ShorthandError
from plans.training.shorthand import keep_words, parse, write
from plans.training.steps import (
    BetweenPaces,
    Change,
    Effort,
    Extent,
    Feel,
    FixedPace,
    HeartRate,
    Ladder,
    Other,
    Progression,
    Race,
    RacePace,
    Repeats,
    RunWith,
    Session,
    Shift,
    Step,
    Words,
)


def km(low, high=None):
    return Extent(round(low * 1_000_000), round((high or low) * 1_000_000), "km")


def m(low, high=None):
    return Extent(low * 1000, (high or low) * 1000, "m")


def mins(low, high=None):
    return Extent(low * 60, (high or low) * 60, "min")


def secs(low, high=None):
    return Extent(low, high or low, "s")


MP, HM, FIVE, TEN = RacePace("MP"), RacePace("HM"), RacePace("5K"), RacePace("10K")


def jog(extent):
    return Step(extent, ("jog",))


def easy(extent):
    return Step(extent, ("easy",))


UNDERSTOOD = [
    ("6 x 3 min @ 10K, 2 min jog", [Repeats(6, 6, (Step(mins(3), (), TEN),), jog(mins(2)))]),
    (
        "5 x 1000 m @ 5K-10K pace, 400 m jog",
        [Repeats(5, 5, (Step(m(1000), (), BetweenPaces("5K", "10K")),), jog(m(400)))],
    ),
    (
        "4-5 x (2 min @ HM, 1 min @ 10K, 20 s fast), 3 min walk or jog",
        [
            Repeats(
                4,
                5,
                (Step(mins(2), (), HM), Step(mins(1), (), TEN), Step(secs(20), ("fast",))),
                Step(mins(3), ("walk", "jog")),
            )
        ],
    ),
    (
        "2 x (4 x 400 m @ 5K, 200 m jog), 3 min rest",
        [
            Repeats(
                2,
                2,
                (Repeats(4, 4, (Step(m(400), (), FIVE),), jog(m(200))),),
                Step(mins(3), ("rest",)),
            )
        ],
    ),
    ("8x30s hill, jog back", [Repeats(8, 8, (Step(secs(30), ("hill",)),), jog("back"))]),
    (
        "ladder 2-4-6-4-2 min @ 10K, equal jog",
        [Ladder(tuple(mins(n) for n in (2, 4, 6, 4, 2)), (), TEN, jog("equal"))],
    ),
    (
        "400-800-1200-800-400 @ 5K, 2 min jog",
        [Ladder(tuple(m(n) for n in (400, 800, 1200, 800, 400)), (), FIVE, jog(mins(2)))],
    ),
    ("30 min tempo @ HM", [Step(mins(30), ("tempo",), HM)]),
    (
        "2 x 12-18 min @ HM, 4-5 min jog",
        [Repeats(2, 2, (Step(mins(12, 18), (), HM),), jog(mins(4, 5)))],
    ),
    (
        "6 km progression from MP, 10 s/km faster each km",
        [Progression(km(6), MP, None, Change(Shift(-10, "km"), km(1)))],
    ),
    (
        "5 km, start at MP, -8 s/km every km",
        [Progression(km(5), MP, None, Change(Shift(-8, "km"), km(1)))],
    ),
    (
        "4 x (1 km @ MP, 1 km @ MP+20 s/km)",
        [Repeats(4, 4, (Step(km(1), (), MP), Step(km(1), (), RacePace("MP", Shift(20, "km")))))],
    ),
    ("12 km with last 4 km @ MP", [RunWith(Step(km(12)), Step(km(4), (), MP))]),
    ("45 min easy", [easy(mins(45))]),
    ("8-10 km easy + 6 strides", [easy(km(8, 10)), Repeats(6, 6, (Step(None, ("strides",)),))]),
    (
        "long run 26-29 km, steady last 20 min",
        [RunWith(Step(km(26, 29), ("long",)), Step(mins(20), ("steady",)))],
    ),
    ("long 2 h 15 easy", [Step(Extent(8100, 8100, "h"), ("long",))]),
    ("rest", []),
    ("strength 30 min", [Other("strength", mins(30))]),
    ("cross-train 45 min bike", [Other("cross", mins(45), "bike")]),
    ("race 10 km", [Race(km(10))]),
    ("25 min easy + 6 x 80 m strides", [easy(mins(25)), Repeats(6, 6, (Step(m(80), ("strides",)),))]),
    (
        "15 min easy; drills; 6 x 800 m @ 10K-5K, 90 s jog; 10 min easy",
        [
            easy(mins(15)),
            Step(None, ("drills",)),
            Repeats(6, 6, (Step(m(800), (), BetweenPaces("10K", "5K")),), jog(secs(90))),
            easy(mins(10)),
        ],
    ),
    ("12 x 1 min @ 5K, 1 min jog", [Repeats(12, 12, (Step(mins(1), (), FIVE),), jog(mins(1)))]),
    ("8 x (4 min easy, 1 min walk)", [Repeats(8, 8, (easy(mins(4)), Step(mins(1), ("walk",))))]),
    (
        "30 km with 3 x 5 km @ MP, 1 km easy",
        [RunWith(Step(km(30)), Repeats(3, 3, (Step(km(5), (), MP),), easy(km(1))))],
    ),
    ("8 km progression from MP to HM", [Progression(km(8), MP, HM)]),
    ("20 km long run, 8 km progression", [Step(km(20), ("long",)), Progression(km(8))]),
    ("long run 24 km @ steady", [Step(km(24), ("long",), Feel("steady"))]),
    ("15 min easy, 4 strides, race 5 km @ 4:10/km", [
        easy(mins(15)),
        Repeats(4, 4, (Step(None, ("strides",)),)),
        Race(km(5), FixedPace(250, 250, "km")),
    ]),
    ("race half-marathon @ goal", [Race(km(21.0975), RacePace("goal"))]),
    ("40 min @ effort 6-7", [Step(mins(40), (), Effort(6, 7))]),
    ("40 min @ 7/10", [Step(mins(40), (), Effort(7, 7))]),
    ("40 min @ 150-160 bpm", [Step(mins(40), (), HeartRate(150, 160, "bpm"))]),
    ("40 min @ 80-85 % HR", [Step(mins(40), (), HeartRate(80, 85, "%"))]),
    ("5 mi @ 7:15-7:30/mi", [Step(Extent(8_046_720, 8_046_720, "mi"), (), FixedPace(435, 450, "mi"))]),
    ("warm-up; 10 x 400 m @ 5K; cool-down", [
        Step(None, ("warm-up",)),
        Repeats(10, 10, (Step(m(400), (), FIVE),)),
        Step(None, ("cool-down",)),
    ]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "parts"), UNDERSTOOD, ids=[text for text, _ in UNDERSTOOD])
def test_it_is_understood(text, parts):
    assert parse(text) == Session(tuple(parts))


SPELLINGS = {
    "6 x 3 min @ 10K, 2 min jog": [
        "6 × 3 min @ 10K, 2 min jog",
        "6*3min@10K,2min jog",
        "6 by 3 mins at 10K pace, 2 mins jogging",
        "6 X 3' in 10k, 2' jog",
        "6x3’ @10K pace with 2’ jog",
        "6 times 3 minutes @ 10 K, 2 min jog; note:",
        "  6 x  3 min  @ 10K ,  2 min jog recovery  ",
        "6 x 3:00 min @ 10K, 2:00 min jog",
        "6 x 3 min @ 10K (2 min jog)",
        "6 x 3 min @ 10K w/ 2 min jog",
        "6 x 3 min @ 10K off 2 min",
        "6 x 3 min @ 10K r 2'",
        "6 x 3 min @ 10K w 2 min jog",
        "6 x 3 min @ 10K, 2 min between reps",
        "6 x 3 min @ 10K / 2 min jog.",
    ],
    "5 x 1 km @ 5K, 90 s jog": [
        "5 x 1K @ 5K, 90 s jog",
        "5 x 1k @ 5k, 90\" jog",
        "5 x 1 kilometre @ 5K, 90 sec jog between",
        "5x1km @5K, 90 seconds jog",
    ],
    "3 x 10 min @ HM, 2 min jog": [
        "3 x 10 min @ half-marathon pace, 2 min jog",
        "3 x 10 min @ half marathon pace, 2 min jog",
        "3 x 10 min HM pace, 2 min jog",
        "3 x 10 min @ hmp, 2 min jog",
        "3 x 10 min @ half marathon, 2 min jog",
    ],
    "12 km @ MP": ["12 km @ marathon pace", "12 km MP", "12 km at marathon effort", "12.0 km in MP pace", "12km@MP"],
    "16 km with 1 x 10 km @ MP": ["16 km with 10 km @ MP", "16 km incl. 10 km at marathon pace"],
    "40 min @ 130-145 bpm": ["40 min @ 130-145 HR", "40 min HR 130-145", "40 min @ HR 130-145"],
    "40 min @ effort 4": ["40 min effort 4", "40 min RPE 4", "40 min @ 4/10"],
    "2 km warm-up": ["2 km WU", "warm-up: 2 km", "2k warm up"],
    "8 x 20 s hill, walk back": ["8 x 20 s hill sprints, walk back down"],
    "12 km @ goal": ["12 km @ goal pace", "12 km at race pace"],
    "8 x (4 min easy, 1 min walk)": ["8 x (4 min run, 1 min walk)", "8 x (4 min running, 1 min walking)"],
    "30 min easy": ["30 min run", "run 30 min"],
    "10 x 1 min fast, 1 min rest": ["10 x 1 min on, 1 min off"],
    "3 x (4 x 400 m @ 5K, 200 m jog), 3 min jog": ["3 x (4 x 400 m @ 5K, 200 m jog), 3 min between sets"],
    "race 21.0975 km": ["race HM", "HM race", "race half marathon"],
    "5 mi easy": ["5 miles easy", "5mi easy", "easy 5 mile run", "5 mi @ easy pace", "easy run 5 miles"],
    "8-10 km easy": ["8–10 km easy", "8 to 10 km easy", "8 km - 10 km easy", "easy 8-10k", "8 — 10 km gentle"],
    "5.5 km easy": ["5,5 km easy", "5.50 km easy"],
    "12 km with last 4 km @ MP": [
        "12 km, last 4 km @ MP",
        "12 km, last 4 km at marathon pace",
        "12 km last 4 km @ MP",
        "12 km incl. last 4 km @ MP",
        "12 km with the last 4 km @ MP",
        "12 km (last 4 km @ MP)",
    ],
    "long run 2 h 15 min": ["long 2 h 15", "long run 2h15", "2 h 15 min long run", "long run 2:15 h", "2:15:00 long"],
    "6 x 2:30 min @ 5K, equal jog": ["6 x 2'30\" @ 5K, same jog", "6 x 2 min 30 s @ 5K, equal jog"],
    "10 km with 6 strides": ["10 km including 6 strides"],
    "4-6 strides": ["strides"],
    "rest": ["Rest", "REST day", "off", "day off"],
    "10 min easy; drills; 6 strides": ["10 min easy then running drills then 6 strides", "10 min easy + drills + 6 strides"],
    "6 km progression from MP, 10 s/km faster every km": [
        "6 km, from MP, 10 s/km faster every km",
        "6 km progressive from MP 10 s faster each km",
        "6 km @ MP, getting 10 s/km faster every km",
        "6 km starting at MP, -10 s per km every km",
    ],
    "1500 m @ 5K": ["1500 @ 5K", "1,500 m @ 5K", "1500 metres @ 5K", "1500m@5K"],
    "race 42.195 km": ["race marathon", "marathon race", "marathon"],
    "cross-train 45 min bike": ["45 min bike", "bike 45 min", "45 min cycling", "45 min easy bike", "cross training: 45 min bike".replace(":", "")],
    "strength 20 min core": ["20 min core", "strength training 20 min core"],
}  # fmt: skip


@pytest.mark.parametrize(
    ("usual", "spelling"), [(usual, other) for usual, others in SPELLINGS.items() for other in others]
)
def test_spellings_mean_the_same(usual, spelling):
    assert parse(spelling) == parse(usual)


@pytest.mark.parametrize("usual", SPELLINGS)
def test_the_usual_spelling_is_the_one_written(usual):
    text = usual.replace("10 min easy; drills; 6 strides", "10 min easy; drills + 6 strides")
    assert write(parse(usual)) == text


def test_a_note_is_kept_beside_the_steps():
    session = parse("8 km easy; note: on grass, meet at the pier")
    assert session.note == "on grass, meet at the pier"
    assert session.parts == (easy(km(8)),)
    assert write(session) == "8 km easy; note: on grass, meet at the pier"


class TestK:
    """`k` after a number is kilometres; with a capital it is a race pace only after "@"."""

    def test_a_capital_k_before_the_at_is_a_distance(self):
        assert parse("3 x 5K @ 10K, 1K jog") == parse("3 x 5 km @ 10K, 1 km jog")

    def test_a_race_of_10k_is_a_distance(self):
        assert parse("race 10K") == Session((Race(km(10)),))

    def test_a_pace_without_at_is_pointed_out(self):
        with pytest.raises(ShorthandError) as caught:
            parse("6 x 3 min 10K pace")
        assert (caught.value.position, caught.value.suggestion) == (10, "A race pace comes after “@”: @ 10K.")


class TestWhatBelongsToWhat:
    def test_a_jog_after_repeats_is_their_recovery_only_once(self):
        first, second = parse("6 x 1 km @ 10K, 2 min jog, 10 min jog").parts
        assert first.recovery == jog(mins(2))
        assert second == jog(mins(10))

    def test_a_semicolon_ends_the_repeats(self):
        first, second = parse("6 x 1 km @ 10K; 10 min jog").parts
        assert first.recovery is None
        assert second == jog(mins(10))

    def test_easy_running_after_strides_is_no_recovery(self):
        first, second = parse("6 strides, 10 min easy").parts
        assert first.recovery is None
        assert second == easy(mins(10))

    def test_running_at_a_pace_after_repeats_is_a_part_of_its_own(self):
        assert len(parse("6 x 1 km @ 10K, 2 km @ MP").parts) == 2

    def test_the_last_part_of_each_repeat(self):
        (repeats,) = parse("3 x 3 km, last 1 km @ HM").parts
        assert repeats.body == (RunWith(Step(km(3)), Step(km(1), (), HM)),)


class TestFreeText:
    def test_words_are_kept_with_the_coachs_amounts(self):
        session = keep_words("Beach fun = whatever\n(all out?)", time=mins(50, 60), hard_time=mins(15))
        assert session == Session(
            (Words("Beach fun whatever (all out?)", None, mins(50, 60), None, mins(15)),)
        )
        assert write(session) == "free: Beach fun whatever (all out?) = 50-60 min, 15 min hard"
        assert parse(write(session)) == session

    def test_only_amounts_may_follow(self):
        with pytest.raises(ShorthandError, match="amounts only"):
            parse("free: as you feel = 6 x 1 km @ 5K")


WRONG = [
    ("45 min esay", 7, 4, "Did you mean “easy”?"),
    ("6 x 3 min @ 10K, 2 min jgo", 23, 3, "Did you mean “jog”?"),
    ("swimm 30 min", 0, 5, "Did you mean “swim”?"),
    ("6 x 3 @ 10K", 4, 1, "Write 3 min, 3 km or 3 s."),
    ("6 x 3 min @ 3K, 2 min jog", 12, 2, "Possible paces: 5K, 10K, HM, MP, goal, 4:30/km, effort 7, easy."),
    ("6 x 3 min @ quickly", 12, 7, "Possible paces: 5K, 10K, HM, MP, goal, 4:30/km, effort 7, easy."),
    ("6 x 3 min @", 10, 1, "Possible paces: 5K, 10K, HM, MP, goal, 4:30/km, effort 7, easy."),
    ("5 km @ MP+20", 10, 2, "Write 20 s/km or 20 s/mi after the pace."),
    ("2 x 4 x 400 m @ 5K", 6, 1, "Put repeats within repeats in brackets: 2 x (4 x 400 m @ 5K, 200 m jog)."),
    ("3 x (2 min @ HM, 1 min jog", 4, 1, "Add “)”."),
    ("6 x (400 m, 200 m jog) @ 5K", 23, 1, "Put the pace inside the brackets, with each piece."),
    ("long 2:15", 5, 4, "Write 2 h 15 or 2:15 min."),
    ("8 km at 5:30", 8, 4, "Write 5:30/km or 5:30/mi."),
    ("6 x 800 m in 3:10, 90 s jog", 13, 4, "Write 3:10/km or 3:10/mi."),
    ("8 km easy on trails", 10, 2, "Words for the athlete go to the end: “note: on grass”. Or keep the line as free text."),
    ("10-8 km easy", 0, 7, "Put the smaller first."),
    ("5 km easy @ MP @ HM", 15, 4, "Use “;” or “,” between pieces."),
    ("easy", 0, 4, "Try: 45 min easy or 8 km easy"),
    ("jog back", 0, 8, "Try: 8 x 30 s hill, jog back"),
    ("0 km easy", 0, 4, ""),
    ("999 km easy", 0, 6, "Is the unit right?"),
    ("12 km with last 15 km @ MP", 16, 5, "The whole stands first: 12 km with last 4 km"),
    ("12 km with 3 x 5 km @ MP", 11, 13, "The whole stands first: 20 km with 3 x 3 km @ MP"),
    ("last 4 km @ MP", 0, 14, "Try: 12 km, last 4 km @ MP"),
    ("1:75 min tempo", 0, 8, ""),
    ("100 x 1 km", 0, 3, ""),
    ("race", 0, 4, "Try: race 10 km"),
    ("", 0, 1, "For a day off, write “rest”."),
    ("6 x 1 km @ effort 11", 18, 2, ""),
    ("5 km @ 1:10/km", 7, 7, "Write 4:30/km or 7:15/mi."),
    ("8 km easy hard", 0, 14, "Use “;” or “,” between."),
    ("bike 45 min @ MP", 0, 16, "Try: cross-train 45 min bike"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "position", "length", "suggestion"), WRONG, ids=[w[0] for w in WRONG])
def test_what_is_not_understood_is_marked(text, position, length, suggestion):
    with pytest.raises(ShorthandError) as caught:
        parse(text)
    error = caught.value
    assert (error.position, error.length, error.suggestion) == (position, length, suggestion)


def test_the_error_prints_a_marker_under_the_text():
    with pytest.raises(ShorthandError) as caught:
        parse("45 min esay")
    assert str(caught.value) == (
        "“esay” is not a word I know here. Did you mean “easy”?\n45 min esay\n       ^^^^"
    )
