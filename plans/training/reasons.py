"""Reasons: one sentence for each changed session, in the athlete's units.

Law: a sentence is built only from the rule's own numbers; what it says can be recomputed from them.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from plans.training.ledger import Item, Ledger
from plans.training.placing import weekday
from plans.training.rising import Number
from plans.training.schedule import Inputs, Reason, Session, Standing

MM_PER_MILE = 1_609_344
NAMES = {"easy": "Easy run", "long": "Long run", "quality": "Quality session", "race": "Race"}
WHY = {
    "ill": "ill",
    "hurt": "hurt",
    "travel": "travelling",
    "tired": "tired",
    "time": "for lack of time",
    "": "",
}
CUT_ORDER = {
    "second_run": "the second run of a day gives way first",
    "easy_quarter": "easy runs give way first, by up to a quarter",
    "long_top": "after the easy runs the long run gives up to 15 %",
    "easy_half": "easy runs are halved before quality is touched",
    "turned_easy": "too little room for hard running",
    "long_sixty": "the long run keeps at least 60 %",
    "quality_level": "the key session stays, shortened",
    "easy_below": "so little room that easy runs go below half",
    "long_below": "so little room that the long run goes below 60 %",
    "dropped": "no room is left for it",
}
NEVER_FREE = ("already past", "not free")


def distance_words(mm: Number, units: str) -> str:
    """A distance in the athlete's units with at most one decimal: "14 km", "8.5 mi"."""
    per = 1_000_000 if units == "km" else MM_PER_MILE
    tenths = int(Fraction(mm) * 10 / per + Fraction(1, 2))
    whole, rest = divmod(tenths, 10)
    return f"{whole}.{rest} {units}" if rest else f"{whole} {units}"


def time_words(seconds: Number) -> str:
    """Whole minutes as a coach says them: "50 min", "2 h 30"."""
    minutes = int(Fraction(seconds) / 60 + Fraction(1, 2))
    return f"{minutes} min" if minutes < 100 else f"{minutes // 60} h {minutes % 60:02d}"


def amount_words(inputs: Inputs, in_time: bool) -> Callable[[Number], str]:
    """How the ledger's measure is written for this athlete."""
    return time_words if in_time else lambda mm: distance_words(mm, inputs.units)


def name_of(session: Session) -> str:
    return session.title or NAMES.get(session.role, "Session")


def _called(session: Session) -> str:
    """The session within a sentence."""
    return session.title or f"the {NAMES.get(session.role, 'session').lower()}"


def reason_for(ledger: Ledger, item: Item, week: dict[str, Any]) -> Reason:
    """The reason of a changed item. `week`: the numbers of its week's cap."""
    rule = item.rule or ("eased" if item.eased else "moved")
    head = f"{name_of(item.session)} {_change(ledger, item)}"
    numbers = {
        k: _plain(v)
        for k, v in (item.numbers | (week if rule in CUT_ORDER else {})).items()
        if k != "refused"
    }
    refused = item.numbers.get("refused", ())
    return Reason(rule, f"{head}: {_because(ledger, item, rule, week)}.", numbers, refused)


def _because(ledger: Ledger, item: Item, rule: str, week: dict[str, Any]) -> str:
    """All that acted on the run, in one sentence: why it moved, why it is run easy, why it is less."""
    tail = _tail(ledger, item, rule, week)
    if item.easy and rule in CUT_ORDER and not item.dropped:
        if item.barred:
            cap = amount_words(ledger.inputs, ledger.in_time)(week["cap"])
            tail = f"{_tail(ledger, item, item.barred, week)}, and the week may be {cap}"
        elif item.session.role == "quality":
            tail = f"{week_words(ledger, week)}; {CUT_ORDER['turned_easy']}"
    elif item.eased and not item.easy and rule != "eased":
        tail = f"{tail}, and no hard running yet"
    moved_by = item.numbers.get("moved_by")
    if moved_by and moved_by != rule and not item.dropped:
        tail = f"{_tail(ledger, item, moved_by, week)}; {tail}"
    return tail


def restored(ledger: Ledger, item: Item, before: Standing) -> Reason:
    """A session that goes back to what the coach wrote."""
    back = f"the plan's {_native_words(ledger, item, item.planned)}"
    if not before.dropped_by and before.day.toordinal() != item.day:
        back = weekday(item.day)
    return Reason("restored", f"{name_of(item.session)} back to {back}: the guard rails allow it again.")


def _plain(value: object) -> Any:
    if isinstance(value, Fraction):
        return value.numerator if value.denominator == 1 else [value.numerator, value.denominator]
    if isinstance(value, Session):
        return value.key
    return value


def _native_words(ledger: Ledger, item: Item, amount: int) -> str:
    if item.session.written_in == "time":
        return time_words(amount)
    return distance_words(amount, ledger.inputs.units)


def _change(ledger: Ledger, item: Item) -> str:
    if item.dropped:
        return f"of {_native_words(ledger, item, item.planned)} taken out"
    parts = []
    if item.day != item.session.day.toordinal():
        parts.append(f"from {weekday(item.session.day.toordinal())} to {weekday(item.day)}")
    if item.amount != item.planned:
        parts.append(
            f"{_native_words(ledger, item, item.planned)} to {_native_words(ledger, item, item.amount)}"
        )
    if item.easy:
        parts.append("run easy")
    elif item.level:
        parts.append(f"with about {('80', '60')[item.level - 1]} % of its hard running")
    if item.eased and not item.easy:
        parts.append("without its hard part")
    return ", ".join(parts)


def _off(numbers: dict[str, Any]) -> str:
    days, why = numbers.get("break_days"), numbers.get("break_why", "")
    return f"{days} days off {WHY.get(str(why), '')}".rstrip()


def percent(share: Fraction) -> str:
    value = Fraction(share) * 100
    return f"{int(value)} %" if value.denominator == 1 else f"about {round(value)} %"


def week_words(ledger: Ledger, week: dict[str, Any]) -> str:
    """Why a week may not be more: its smallest cap in words."""
    words = amount_words(ledger.inputs, ledger.in_time)
    limit = f"the week may be {words(week['cap'])}"
    binding = week["binding"]
    if binding == "break":
        return f"{limit} after {_off(week)}, {percent(week['share'])} of {words(week['base'])}"
    if binding in ("recovery", "taper"):
        reached, wanted = words(week["peak_reached"]), words(week["peak_planned"])
        if binding == "taper":
            return f"{limit}, the taper measured from a peak of {reached}, not {wanted}"
        return f"{limit}, a recovery week in proportion to the {reached} reached before it, not {wanted}"
    if binding == "hold":
        return f"{limit}, no step up while a health note is open"
    if binding == "rise":
        return f"{limit}, as far as it may rise from {words(week['reference'])}"
    if week.get("beyond"):
        return f"{words(week['beyond'])} more than planned were run this week"
    return f"{limit}, and part of it has been run"


def _tail(ledger: Ledger, item: Item, rule: str, week: dict[str, Any]) -> str:
    words, n = amount_words(ledger.inputs, ledger.in_time), item.numbers
    if rule in CUT_ORDER:
        return f"{week_words(ledger, week)}; {CUT_ORDER[rule]}"
    if rule == "long_break":
        run = "long run" if item.session.role == "long" else "run"
        return f"{_off(n)}, at first no {run} over {percent(n['share'])} of {words(n['longest'])}"
    if rule == "long_rise":
        return f"longest run of the past 30 days {words(n['longest'])}, so at most {words(n['cap'])}"
    if rule == "hold_cap":
        return f"no step up over {words(n['longest'])} while a health note is open"
    if rule == "long_share":
        return f"at most {percent(n['share'])} of a week of {words(n['week'])}"
    if rule in _FIXED:
        return _FIXED[rule]
    if rule == "eased":
        return _eased(item)
    if rule in ("calm", "one_quality", "first_quality"):
        if rule == "calm":
            return f"{_off(n)}, no quality for {n['calm']} days"
        return f"{_off(n)}, the first week with quality has one session at its lowest level"
    if rule == "race_near":
        return _near(n["race_gap"])
    return _tail_of_days(ledger, item, rule)


_FIXED = {
    "hold": "a health note is open; a coach clears it",
    "hard_share": "hard running would be too large a part of the smaller week",
    "race_long": "no long run within two days of a race",
    "race_replaces": "the race that was added takes its place",
    "second_minutes": "the day's minutes no longer hold both runs",
    "easy_minutes": "run easy, it would no longer fit the day's minutes",
}


def _eased(item: Item) -> str:
    """Why a run keeps its length and loses its hard part."""
    by, n = item.numbers.get("eased_by"), item.numbers
    if by == "hold":
        return "no hard running while a health note is open"
    if by == "race_near":
        return _near(n["race_gap"])
    if by == "hard_share":
        return _FIXED["hard_share"]
    return f"{_off(n)}, no hard running in a long run before the first quality session"


def _near(gap: int) -> str:
    days = "one day" if abs(gap) == 1 else f"{abs(gap)} days"
    return f"{days} {'before' if gap < 0 else 'after'} the race that was added"


def _tail_of_days(ledger: Ledger, item: Item, rule: str) -> str:
    n = item.numbers
    if rule == "hours":
        return f"no run longer than {time_words(n['hours'])}"
    if rule == "minutes":
        return (
            f"{n['minutes']} minutes free on {weekday(item.day)} and no other day fits{_first_refusal(item)}"
        )
    if rule == "no_day":
        refusal = _first_refusal(item)
        return f"no day of that week takes it{refusal}" if refusal else "no day of that week is free for it"
    if rule == "gave_way":
        return f"its day goes to {_called(n['for'])}"
    if rule == "moved_missed":
        because = f" {WHY[item.reason_missed]}".rstrip()
        return f"missed on {weekday(item.origin)}{because}; {weekday(item.day)} has room for it"
    if rule == "swapped":
        return f"changes places with {_called(n['for'])}"
    free = ledger.inputs.minutes.get(item.session.day)
    if free is not None:
        day = weekday(item.session.day.toordinal())
        return f"{day} has {free} minutes free" if free else f"{day} is not free"
    return "its own day is gone"


def _first_refusal(item: Item) -> str:
    """The first day that was refused for another reason than not being there."""
    refused = [r.words for r in item.numbers.get("refused", ()) if not r.words.endswith(NEVER_FREE)]
    return f" ({refused[0]})" if refused else ""
