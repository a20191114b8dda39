"""Random athletes for the planner's property tests: plans, histories, absences, pins, health notes."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

from hypothesis import strategies as st

from plans.training.schedule import Away, Hold, Inputs, Level, Log, Session, Week
from tests.training.planning import KM, MONDAY

SHAPES = ("base", "build", "build", "recovery")
WHYS = ("time", "travel", "tired", "ill", "hurt", "")


def kinds(n: int) -> list[str]:
    """base/build with a recovery week every fourth, then peak, taper, race."""
    end = ["race"] if n < 6 else ["peak", "taper", "race"] if n < 12 else ["peak", "taper", "taper", "race"]
    return [SHAPES[i % 4] for i in range(n - len(end))] + end


SOME_WEEKS = st.integers(3, 14)


@st.composite
def plans(draw, weeks=SOME_WEEKS, minutes=True, pins=True, doubles=True):
    """A coach's plan of whole kilometres: same days each week, volumes that rise, dip and taper."""
    n = draw(weeks)
    days = sorted(draw(st.sets(st.integers(0, 6), min_size=3, max_size=6)))
    long_day = days[-1]
    quality_days = [d for d in days if 2 <= long_day - d <= 5][: draw(st.integers(0, 2))]
    quality_days = [d for i, d in enumerate(quality_days) if i == 0 or d - quality_days[0] >= 2]
    in_time = minutes and draw(st.integers(0, 5)) == 0
    easy, long = draw(st.integers(4, 12)), draw(st.integers(8, 22))
    grow, supporting = draw(st.integers(0, 2)), draw(st.booleans())
    twice = draw(st.sets(st.integers(0, 30), max_size=2)) if doubles else set()
    sessions, written = [], []
    for w, kind in enumerate(kinds(n)):
        written.append(Week(MONDAY + timedelta(days=7 * w), kind))
        scale = {"recovery": 75, "taper": 65, "race": 45}.get(kind, 100)
        for d in days:
            when = MONDAY + timedelta(days=7 * w + d)
            key = f"{w + 1}-{d}"
            if d == long_day and kind == "race":
                sessions.append(Session(key, when, "race", 21_097_500, 7_200))
            elif d == long_day:
                km = max(4, (long + min(w, 9) * grow) * scale // 100)
                hard = 5 * KM if w % 3 == 2 and km > 10 else 0
                sessions.append(_run(key, when, "long", km, in_time, hard))
            elif d in quality_days:
                sessions.append(
                    _quality(
                        key, when, max(5, 10 * scale // 100), supporting or d != quality_days[0], in_time
                    )
                )
            else:
                sessions.append(_run(key, when, "easy", max(3, easy * scale // 100), in_time))
        if w in twice:
            when = MONDAY + timedelta(days=7 * w + days[0])
            sessions.append(_run(f"{w + 1}-b", when, "easy", 4, in_time, slot=1))
    if pins and draw(st.integers(0, 3)) == 0:
        chosen = draw(st.integers(0, len(sessions) - 1))
        sessions[chosen] = replace(sessions[chosen], pinned=True)
    return Inputs(tuple(written), tuple(sessions), MONDAY)


def _run(key, when, role, km, in_time, hard=0, slot=0):
    if in_time:
        s = max(20, km * 6 // 5 * 5) * 60
        mm = s * KM // 360
        return Session(key, when, role, mm, s, slot, "time", hard_mm=hard, s_per_km=360)
    return Session(key, when, role, km * KM, km * 360, slot, hard_mm=hard, s_per_km=360)


def _quality(key, when, km, supporting, in_time):
    rows = [(Fraction(1), km, km - 4), (Fraction(4, 5), km - 1, km - 5), (Fraction(3, 5), km - 2, km - 6)]
    rows = [(share, max(3, total), max(0, hard)) for share, total, hard in rows]
    pace = 330
    if in_time:
        levels = tuple(
            Level(f, t * pace // 60 * 60 * KM // pace, t * pace // 60 * 60, h * KM) for f, t, h in rows
        )
    else:
        levels = tuple(Level(f, t * KM, t * pace, h * KM) for f, t, h in rows)
    return Session(
        key, when, "quality", levels[0].mm, levels[0].s, 0, "time" if in_time else "distance",
        levels=levels, hard_mm=levels[0].hard_mm, supporting=supporting, s_per_km=360,
    )  # fmt: skip


@st.composite
def lives(draw, plan, holds=True, absences=True, gone=None):
    """What happened so far: mostly done, some part, some missed, a break or two, days not free."""
    length = 7 * len(plan.weeks)
    today = draw(st.integers(0, length - 1)) if gone is None else draw(gone)
    off = [
        (start, start + draw(st.integers(2, 30)), draw(st.sampled_from(WHYS)))
        for start in draw(st.lists(st.integers(0, max(0, today - 1)), max_size=2))
    ]
    runs = max(1, sum((s.day - MONDAY).days < today for s in plan.plan))
    moods = dict(draw(st.lists(st.tuples(st.integers(0, runs - 1), st.integers(0, 1)), max_size=7)))
    logs = []
    for i, s in enumerate(s for s in plan.plan if (s.day - MONDAY).days < today):
        n = (s.day - MONDAY).days
        why = next((w for a, b, w in off if a <= n < b), None)
        mood = moods.get(i)
        if why is not None or mood == 0:
            logs.append(Log(s.day, s.key, "missed", reason=why or WHYS[n % len(WHYS)]))
        elif mood == 1:
            logs.append(Log(s.day, s.key, "part", s.mm // 2 // 1000 * 1000, s.s // 2))
        else:
            logs.append(Log(s.day, s.key, "done", s.mm, s.s))
    made = replace(plan, logs=tuple(logs), today=MONDAY + timedelta(days=today))
    if absences:
        made = draw(_absent(made, length))
    if holds and draw(st.integers(0, 7)) == 0:
        opened = made.today - timedelta(days=draw(st.integers(0, 6)))
        made = replace(made, holds=(Hold(opened, draw(st.booleans()), draw(st.booleans())),))
    return made


@st.composite
def _absent(draw, made, length):
    minutes = {}
    for n in draw(st.lists(st.integers(0, length - 1), max_size=5)):
        minutes[MONDAY + timedelta(days=n)] = draw(st.sampled_from((0, 0, 30, 45, 60, 90, 120)))
    away = ()
    if draw(st.integers(0, 3)) == 0:
        first = MONDAY + timedelta(days=draw(st.integers(0, length - 1)))
        last = first + timedelta(days=draw(st.integers(1, 12)))
        away = (Away(first, last, travel=draw(st.booleans())),)
        for n in range((last - first).days + 1):
            minutes[first + timedelta(days=n)] = 0
    return replace(made, minutes=minutes, away=away)


@st.composite
def athletes(draw, **given):
    """A plan and a life together."""
    life = {k: given.pop(k) for k in ("holds", "absences", "gone") if k in given}
    return draw(lives(draw(plans(**given)), **life))
