"""What a set of changes comes to, in one line; and what led to it.

Law: a line is made from the contents themselves, so it says what is issued, also after a coach edited it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from athletes.running.units import Units
from plans.issuing import Content
from plans.measures import written_in
from plans.reading import RUNS, title_of, week_of
from plans.training import schedule as core
from plans.training.reasons import distance_words, time_words

LONGEST = 400
ORDER = {"race": 0, "long": 1, "quality": 2, "easy": 3}
NOUNS = {"race": "race", "long": "long run", "quality": "quality session", "easy": "easy run"}
WORDS_OFF = {"ill": "ill", "hurt": "hurt", "travel": "travelling", "tired": "tired", "time": "no time"}


@dataclass(frozen=True)
class Difference:
    """One session before and after; None where it was not there before, or is not after."""

    before: Content | None
    after: Content | None
    sentence: str = ""

    @property
    def seen(self) -> Content:
        """The content that names it: what stood, or what is new."""
        return self.before if self.before is not None and not self.before.removed else self.new

    @property
    def new(self) -> Content:
        content = self.after or self.before
        assert content is not None
        return content

    @property
    def how(self) -> str:
        """out, new, moved, run easy, shorter, longer, other or same."""
        was = self.before if self.before and not self.before.removed else None
        now = self.after if self.after and not self.after.removed else None
        if was is None or now is None:
            return "same" if was is now else "new" if was is None else "out"
        if now.role == "easy" and was.role == "quality":
            return "run easy"
        if self.amount(now) != self.amount(was):
            return "shorter" if self.amount(now) < self.amount(was) else "longer"
        if was.day != now.day:
            return "moved"
        return "same" if was.steps == now.steps else "other"

    def amount(self, content: Content) -> int:
        """In the measure that what stood is written in."""
        return content.planned_s if written_in(self.seen.steps) == "time" else content.planned_mm

    def words(self, content: Content, units: Units) -> str:
        timed = written_in(self.seen.steps) == "time"
        return time_words(content.planned_s) if timed else distance_words(content.planned_mm, units)


def on_day(day: date) -> str:
    """Sun 29 Nov."""
    return f"{day:%a} {day.day} {day:%b}"


def summary(
    differences: Iterable[Difference], units: Units, week_starts: int = 0, longest: int = LONGEST
) -> str:
    """One line a coach can accept on: like with like, key sessions first; what is too much is counted."""
    groups: dict[tuple[int, str, str], list[Difference]] = defaultdict(list)
    told = [d for d in differences if d.how != "same"]
    for difference in sorted(told, key=lambda d: (d.seen.day, d.seen.slot)):
        role = difference.seen.role
        groups[ORDER.get(role, 4), role, difference.how].append(difference)
    parts = [_group(role, how, found, units, week_starts) for (_, role, how), found in sorted(groups.items())]
    line = ""
    for n, part in enumerate(parts):
        longer = f"{line}; {part}" if line else part
        if line and len(longer) > longest - 20:
            rest = sum(len(found) for _, found in sorted(groups.items())[n:])
            return f"{line[:1].upper()}{line[1:]}; and {rest} more change{'s' * (rest != 1)}"
        line = longer
    return line[:1].upper() + line[1:]


def _group(role: str, how: str, found: Sequence[Difference], units: Units, week_starts: int) -> str:
    noun = NOUNS.get(role, "session")
    one, first = len(found) == 1, found[0]
    if one:
        return _single(noun, how, first, units)
    weeks = len({week_of(d.seen.day, week_starts) for d in found})
    span = (
        f"in {weeks} weeks" if weeks > 1 else f"in the week of {on_day(week_of(first.seen.day, week_starts))}"
    )
    plural = f"{len(found)} {noun}s"
    if how in ("shorter", "longer"):
        if role == "easy":
            return f"{noun}s {how} {span}"
        was, now = first.words(first.seen, units), first.words(first.new, units)
        return f"{plural} {how}, first {now} instead of {was} on {on_day(first.new.day)}"
    return f"{plural} {_verb(how)} {span}"


def _single(noun: str, how: str, one: Difference, units: Units) -> str:
    moved = one.before is not None and one.before.day != one.new.day
    on = f"from {on_day(one.seen.day)} to {on_day(one.new.day)}" if moved else f"on {on_day(one.new.day)}"
    if how in ("shorter", "longer"):
        if noun == "quality session":
            return f"{title_of(one.new.steps, units)} instead of {title_of(one.seen.steps, units)} {on}"
        return f"{noun} {one.words(one.new, units)} instead of {one.words(one.seen, units)} {on}"
    if how == "moved":
        return f"{noun} moved {on}"
    if how == "other":
        return f"{noun} on {on_day(one.new.day)} is now {title_of(one.new.steps, units)}"
    return f"{noun} on {on_day(one.seen.day if how != 'new' else one.new.day)} {_verb(how)}"


def _verb(how: str) -> str:
    return {
        "out": "taken out",
        "new": "put in",
        "moved": "moved",
        "run easy": "run easy",
        "other": "changed",
    }.get(how, how)


# What led to it


def why(inputs: core.Inputs, breaks: Sequence[core.Break] = ()) -> str:
    """What led to a proposal, in one line: holds, days off, runs missed, time off; the newest first."""
    today = inputs.today
    facts = [f"on hold since {on_day(h.opened)}" for h in inputs.holds if h.closed is None]
    # Days off still to come are told as the time off that they are.
    recent = [
        b for b in breaks if b.first_day < today and (b.back is None or b.back >= today - timedelta(21))
    ]
    for off in recent[-1:]:
        facts.append(_break_words(off, today))
    facts += _missed(inputs, recent)
    for away in inputs.away:
        if away.last_day >= today:
            kind = "travel" if away.travel else "time off"
            facts.append(f"{kind} {on_day(away.first_day)} to {on_day(away.last_day)}")
    line = (
        "; ".join(facts)
        or _ran_more(inputs)
        or "Small differences between what was planned and run, or other free days"
    )
    return line[:1].upper() + line[1:]


def _ran_more(inputs: core.Inputs) -> str:
    """Runs of the past two weeks that went well beyond what was planned, or were not in the plan."""
    plan = {s.key: s for s in inputs.plan}
    more = 0
    for log in inputs.logs:
        if log.day < inputs.today - timedelta(14) or log.outcome == "missed":
            continue
        session = plan.get(log.key or "")
        more += max(0, (log.mm or 0) - (session.mm if session else 0))
    words = distance_words(more, inputs.units)
    return f"ran {words} more than planned in the past two weeks" if more >= inputs.step else ""


def _break_words(off: core.Break, today: date) -> str:
    words = WORDS_OFF | {"time": "for lack of time"}
    reason = f" {words[off.why]}" if off.why in words else " hurt" if off.hurt else ""
    until = f", back {on_day(off.back)}" if off.back and off.back <= today else ""
    return f"{off.days} days off{reason} from {on_day(off.first_day)}{until}"


def _missed(inputs: core.Inputs, breaks: Sequence[core.Break]) -> list[str]:
    """Runs missed, cut short or not logged in the past two weeks, those inside a break left out."""
    since = inputs.today - timedelta(14)
    spans = [(b.first_day, b.back or date.max) for b in breaks]
    sessions = {s.key: s for s in inputs.plan if s.role in RUNS}
    logs: Mapping[str, core.Log] = {log.key: log for log in inputs.logs if log.key}
    gone: dict[tuple[str, str], list[core.Session]] = defaultdict(list)
    for session in sessions.values():
        standing = inputs.standing.get(session.key)
        day = standing.day if standing else session.day
        if not since <= day < inputs.today or any(a <= day < b for a, b in spans):
            continue
        log = logs.get(session.key)
        if log is None and inputs.unknown_from and day < inputs.unknown_from:
            if not (standing and standing.dropped_by):
                gone["not logged", ""].append(session)
        elif log is not None and log.outcome in ("missed", "part"):
            gone["missed" if log.outcome == "missed" else "cut short", log.reason].append(session)
    said = []
    for (how, reason), found in sorted(gone.items(), key=lambda kv: -max(s.day for s in kv[1]).toordinal()):
        newest = max(found, key=lambda s: (s.role != "easy", s.day))
        name = (
            NOUNS.get(newest.role, "session")
            if newest.role != "quality"
            else newest.title or "quality session"
        )
        others = f" and {len(found) - 1} more" if len(found) > 1 else ""
        because = f" ({WORDS_OFF[reason]})" if reason in WORDS_OFF else ""
        said.append(f"{name} of {on_day(newest.day)}{others} {how}{because}")
    return said[:3]
