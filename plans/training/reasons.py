"""Reasons: one sentence for each changed session, in the athlete's units.

Law: a sentence is built only from the rule's own numbers; what it says can be recomputed from them.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from typing import Any

from plans.training.ledger import Item, Ledger, Number
from plans.training.placing import weekday
from plans.training.schedule import Inputs, Reason, Session

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
    "easy_quarter": "easy runs give up to a quarter first",
    "long_top": "after the easy runs' top quarter comes the long run's top",
    "easy_half": "easy runs are halved before quality is touched",
    "turned_easy": "a quality session is run easy",
    "long_sixty": "the long run is kept to at least 60 %",
    "quality_level": "fewer repetitions",
    "easy_below": "easy runs go below half last",
    "long_below": "so little room that the long run goes below 60 %",
    "dropped": "no room is left for it",
}


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


def reason_for(ledger: Ledger, item: Item, week: dict[str, Any]) -> Reason:
    """The reason of a changed item. `week`: the numbers of its week's cap."""
    rule = item.rule or ("eased" if item.eased else "moved")
    head = f"{name_of(item.session)} {_change(ledger, item)}"
    tail = _tail(ledger, item, rule, week)
    if item.barred and item.easy and rule in CUT_ORDER:  # two causes, one sentence
        cap = amount_words(ledger.inputs, ledger.in_time)(week["cap"])
        tail = f"{_tail(ledger, item, item.barred, week)}, and the week may be {cap}"
    elif item.eased and not item.easy and rule != "eased":
        tail = f"{tail}, and no hard running yet"
    numbers = {
        k: _plain(v)
        for k, v in (item.numbers | (week if rule in CUT_ORDER else {})).items()
        if k != "refused"
    }
    refused = item.numbers.get("refused", ())
    return Reason(rule, f"{head}: {tail}.", numbers, refused)


def restored(ledger: Ledger, item: Item) -> Reason:
    """A session that goes back to what the coach wrote."""
    words = _native_words(ledger, item, item.planned)
    return Reason(
        "restored", f"{name_of(item.session)} back to the plan's {words}: nothing stands against it any more."
    )


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
        parts.append(f"at about {('80', '60')[item.level - 1]} % of its repetitions")
    if item.eased and not item.easy:
        parts.append("without its hard part")
    return ", ".join(parts)


def _off(numbers: dict[str, Any]) -> str:
    days, why = numbers.get("break_days"), numbers.get("break_why", "")
    return f"{days} days off {WHY.get(str(why), '')}".rstrip()


def percent(share: Fraction) -> str:
    value = Fraction(share) * 100
    return f"{int(value)} %" if value.denominator == 1 else f"{float(value):.1f} %"


def week_words(ledger: Ledger, week: dict[str, Any]) -> str:
    """Why a week may not be more: its smallest cap in words."""
    words = amount_words(ledger.inputs, ledger.in_time)
    limit = f"the week may be {words(week['cap'])}"
    binding = week["binding"]
    if binding == "break":
        return f"{limit} after {_off(week)}, {percent(week['share'])} of {words(week['base'])}"
    if binding == "recovery":
        return f"{limit}, a recovery week in proportion to what was run before it"
    if binding == "taper":
        return f"{limit}, the taper measured from a peak of {words(week['peak_reached'])}, not {words(week['peak_planned'])}"
    if binding == "hold":
        return f"{limit}, no step up while a health note is open"
    if binding == "rise":
        return f"{limit}, as far as it may rise from {words(week['reference'])}"
    return f"{limit}, and part of it has been run"


def _tail(ledger: Ledger, item: Item, rule: str, week: dict[str, Any]) -> str:
    words, n = amount_words(ledger.inputs, ledger.in_time), item.numbers
    if rule in CUT_ORDER:
        return f"{week_words(ledger, week)}; {CUT_ORDER[rule]}"
    if rule == "long_break":
        first = "first long run" if item.session.role == "long" else "no run at first more than"
        most = "at most " if item.session.role == "long" else ""
        return f"{_off(n)}, {first} {most}{percent(n['share'])} of {words(n['longest'])}"
    if rule == "long_rise":
        return f"longest run of the past 30 days {words(n['longest'])}, so at most {words(n['cap'])}"
    if rule == "hold_cap":
        return f"no step up over {words(n['longest'])} while a health note is open"
    if rule == "long_share":
        return f"at most {percent(n['share'])} of a week of {words(n['week'])}"
    if rule in _FIXED:
        return _FIXED[rule]
    return _tail_of_days(ledger, item, rule)


_FIXED = {
    "hold": "a health note is open; a coach clears it",
    "eased": "no hard running while a fresh break, a race or a health note is near",
    "hard_share": "hard running would be too large a part of the smaller week",
    "race_near": "too near a race that was added",
    "race_long": "no long run within two days of a race",
    "second_minutes": "the day's minutes no longer hold both runs",
    "easy_minutes": "run easy, it would no longer fit the day's minutes",
    "gave_way": "its day goes to a key session",
}


def _tail_of_days(ledger: Ledger, item: Item, rule: str) -> str:
    n = item.numbers
    if rule == "hours":
        return f"no run longer than {time_words(n['hours'])}"
    if rule == "minutes":
        return f"{n['minutes']} minutes free and no other day fits{_first_refusal(item)}"
    if rule == "no_day":
        return f"no day of that week is free for it{_first_refusal(item)}"
    if rule == "calm":
        return f"{_off(n)}, no quality for {n['calm']} days"
    if rule in ("one_quality", "first_quality"):
        return f"{_off(n)}, the first week with quality has one session at its lowest level"
    if rule == "race_replaces":
        return "the race that was added takes its place"
    if rule == "moved_missed":
        return (
            f"missed on {weekday(item.origin)} {WHY[item.reason_missed]}, and there is a day for it".replace(
                "  ", " "
            )
        )
    if rule == "swapped":
        other = n.get("for")
        return (
            f"changes places with {name_of(other).lower()}"
            if isinstance(other, Session)
            else "changes places"
        )
    start = item.session.day
    free = ledger.inputs.minutes.get(date.fromordinal(start.toordinal()))
    if free is not None:
        return f"{weekday(start.toordinal())} has {free} minutes free"
    return "its own day is gone"


def _first_refusal(item: Item) -> str:
    refused = [r for r in item.numbers.get("refused", ()) if "past" not in r.words]
    return f" ({refused[0].words})" if refused else ""
