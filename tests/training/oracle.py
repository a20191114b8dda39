"""An oracle for tiny schedules, by brute force, with rails of its own. It imports no production code.

Two or three weeks of two or three runs, one a day, kilometres only. Written from the page: a week's
runs are chosen out of *every* combination of whole kilometres (and levels of quality); a combination
is lawful when it keeps the rails, and the best is the one the cut order reaches first. The week's cap,
the long run's cap and the break are computed here in their plainest form.
"""

from fractions import Fraction
from itertools import product

F = Fraction
RISE, ABS, RETURN, SPIKE = F(11, 10), 3, F(5, 4), F(13, 10)
LONG_RISE, LONG_ABS, LONG_RETURN, FLOOR = F(11, 10), 2, F(5, 4), 8
TOL, CREDIT, CREDIT4, KAPPA = F(96, 100), F(80, 100), F(92, 100), F(25, 100)
LONG_SHARE = {1: F(1), 2: F(65, 100), 3: F(55, 100), 4: F(50, 100)}
SHORTEST = 3
SHAPE = F(9, 10)


def break_share(days):
    for least, share in ((29, F(40, 100)), (15, F(50, 100)), (10, F(65, 100)), (5, F(80, 100))):
        if days >= least:
            return share
    return F(1)


def calm(days):
    return next((c for least, c in ((29, 14), (15, 10), (10, 7), (5, 3)) if days >= least), 0)


class Oracle:
    """weeks: kinds; runs: list of dict(week, day 0..6, role, km, levels [(km, hard)], hard, supporting);
    done: km by (week, day), None for missed, absent for still to come; week numbers from 0."""

    def __init__(self, kinds, runs, done, today, weekly, longest):
        self.kinds, self.runs, self.done, self.today = kinds, runs, done, today
        self.weekly, self.longest = weekly, longest
        self.planned = [sum(r["km"] for r in runs if r["week"] == w) for w in range(len(kinds))]
        self.log = [(-1, longest)]  # (day, km)
        self.wish = [(-1, longest)] + [(self.at(r), r["km"]) for r in runs]

    @staticmethod
    def at(run):
        return 7 * run["week"] + run["day"]

    def total(self, values, w):
        return values[w] if w >= 0 else self.weekly

    def reference(self, values, w, breaks=()):
        last4 = [self.total(values, i) for i in range(w - 4, w)]
        found = [last4[-1], F(sum(last4), 4)]
        if w >= 1 and self.kinds[w - 1] == "recovery":
            found.append(last4[-2])
        counted = 0
        for i in range(w - 1, w - 5, -1):  # the last two weeks that are no recovery weeks, back to a break
            if any(
                start < 7 * w and (back is None or self.week_back(back) > 7 * i + 7)
                for start, back, _ in breaks
            ):
                break
            found.append(self.total(values, i))
            counted += i < 0 or self.kinds[i] != "recovery"
            if counted == 2:
                break
        return max(found)

    def credited(self, actual, told, w):
        if w < 0 or actual[w] >= told[w]:
            return self.total(actual, w)
        lacking = [
            r["km"] - (self.done[self.at(r)] or 0)
            for r in self.runs
            if r["week"] == w and self.at(r) in self.done
        ]
        all_but_one = actual[w] + max([0, *lacking]) >= CREDIT4 * told[w]
        if actual[w] < CREDIT * told[w] and not all_but_one:
            return self.total(actual, w)
        four = sum(self.total(actual, i) for i in range(w - 3, w + 1))
        four_told = sum(self.total(told, i) for i in range(w - 3, w + 1))
        return told[w] if four >= CREDIT4 * four_told else actual[w]

    def find_breaks(self):
        run_days = sorted(d for d in (self.at(r) for r in self.runs) if self.done.get(d, 1))
        missed = [self.at(r) for r in self.runs if self.at(r) in self.done and not self.done[self.at(r)]]
        found, until = [], -1
        for start in missed:
            if start < until:
                continue
            later = [d for d in run_days if d > start]
            back = next(
                (
                    d
                    for i, d in enumerate(later)
                    if i + 1 == len(later) or self.together(d, later[i + 1], missed)
                ),
                None,
            )
            if back is None:
                found.append((start, None, 99))
                until = 10**6
            elif back - start >= 5:
                found.append((start, back, back - start))
                until = back
            else:
                until = back
        return found

    @staticmethod
    def together(day, following, missed):
        return following - day <= 4 or not any(day < m < following for m in missed)

    def base(self, credit, day):
        w = day // 7
        return max(self.total(credit, w - 1), F(sum(self.total(credit, i) for i in range(w - 4, w)), 4))

    def reckoned(self, start, back):
        """Days a break may be reckoned from: its own, or the end of any week before it."""
        return [start] + [7 * w - 1 for w in range(start // 7, start // 7 - 8, -1)]

    def week_back(self, back):
        first = back // 7 * 7
        return back if any(first <= self.at(r) < back for r in self.runs) else first

    def cap(self, credit, w, breaks):
        plan, ref = self.planned[w], self.reference(credit, w, breaks)
        wish = self.reference(self.planned, w)
        held = max(self.total(credit, i) for i in range(w - 12, w))
        off = []
        for i in range(w - 1, w - 9, -1):
            day = 7 * i + (6 if i < w - 1 else 2)
            off.append(break_share(7 * w - day) * self.base(credit, day))
        rise = max(
            max(RISE, F(plan, 1) / wish) * ref, min(ref + ABS, SPIKE * ref), min(held, RETURN * ref),
            F(1, 2) * held, 3 * SHORTEST, *off,
        )  # fmt: skip
        caps, whole = [rise], rise
        for start, back, _ in breaks:
            wb = self.week_back(back) if back is not None else 10**6
            if start > 7 * w + 6 or wb <= 7 * w - 7:
                continue
            until = back if back is not None and back < 7 * w + 7 else 7 * w + 7
            allowed = max(break_share(until - d) * self.base(credit, d) for d in self.reckoned(start, until))
            allowed = max(allowed, 3 * SHORTEST)
            whole = min(whole, allowed)
            if wb > 7 * w:
                here = [(self.at(r), r["km"]) for r in self.runs if r["week"] == w]
                stands = sum(self.done.get(at) or 0 for at, _ in here if at < wb)
                stands += sum(km for at, km in here if at not in self.done and at < min(wb, start))
                besides = sum(km for at, km in here if at >= wb)
                besides += sum(km for at, km in here if at not in self.done and start <= at < wb)
                allowed = stands + allowed * besides / plan
            caps.append(allowed)
        eight = range(w - 8, w)
        if self.kinds[w] in ("recovery", "taper", "race"):
            reached = max(self.total(credit, i) for i in eight)
            ratio = F(reached) / max(self.total(self.planned, i) for i in eight)
            caps.append(plan * (ratio if ratio < SHAPE else max(ratio, 1)))
        above = min(caps)
        if plan * TOL <= above < plan:
            above = F(plan)
        return above, min(max(min(above, plan), whole), plan)

    def longest_in(self, first, before):
        return max((km for d, km in self.log if first <= d < before), default=0)

    def long_cap(self, day, km, breaks):
        start = day // 7 * 7
        held, month = self.longest_in(start - 84, start), self.longest_in(day - 30, start)
        past = [b for b in breaks if b[1] is not None and self.week_back(b[1]) <= day]
        since = month
        first = F(0)
        if past:
            s, back, _ = past[-1]
            first = max(break_share(back - d) * self.longest_in(d - 30, d) for d in self.reckoned(s, back))
            since = self.longest_in(max(back, day - 30), start)
        first = max(first, min(FLOOR, SPIKE * month), SHORTEST)
        if past and start - 7 < self.week_back(past[-1][1]):
            cap = first
        else:
            wish = max(k for d, k in self.wish if day - 30 <= d < start)
            wrote = F(km, 1) / wish
            if since < wish:
                wrote = min(wrote, SPIKE)
            cap = max(
                LONG_RISE * since, min(since + LONG_ABS, SPIKE * since), wrote * since,
                min(held, LONG_RETURN * since), F(1, 2) * held, first,
            )  # fmt: skip
        return km if km * TOL <= cap else cap

    # -- one week: every combination of amounts, the first lawful one in the cut order ----------

    def answer(self):
        breaks, n = self.find_breaks(), len(self.kinds)
        now = self.today // 7
        actual, told, credit, chosen = [0] * n, [0] * n, [], {}
        for r in self.runs:
            d = self.at(r)
            if d in self.done:
                actual[r["week"]] += self.done[d] or 0
                told[r["week"]] += r["km"]
                if self.done[d]:
                    self.log.append((d, self.done[d]))
        credit = [self.credited(actual, told, w) for w in range(now)]
        barred = self.barred(breaks)
        for w in range(now, n):
            above, whole = self.cap(credit, w, breaks)
            here = [r for r in self.runs if r["week"] == w and self.at(r) not in self.done]
            states = self.week(here, above, above - actual[w], whole, breaks, barred, w)
            for r, state in zip(here, states, strict=True):
                chosen[self.at(r)] = state
                actual[w] += state[0]
                told[w] += state[0]
                if state[0]:
                    self.log.append((self.at(r), state[0]))
            credit.append(self.credited(actual, told, w))
        return chosen

    def barred(self, breaks):
        easy, lowest = set(), set()
        for _, back, days in breaks:
            if back is None:
                continue
            first = back + calm(days)
            easy |= {self.at(r) for r in self.runs if back <= self.at(r) < first and r["role"] == "quality"}
            later = [
                r
                for r in self.runs
                if r["role"] == "quality" and self.at(r) >= first and self.at(r) not in easy
            ]
            if later:
                week = min(r["week"] for r in later)
                there = [r for r in later if r["week"] == week]
                keep = min(there, key=lambda r: (r["supporting"], self.at(r)))
                easy |= {self.at(r) for r in there if r is not keep}
                lowest.add(self.at(keep))
        return easy, lowest

    def week(self, here, above, budget, whole, breaks, barred, w):
        """Try every combination; take the lawful one with the least by the cut order."""
        start = [self.begin(r, whole, breaks, barred, w) for r in here]
        start = self.soften(here, start, whole, w)
        options = [self.options(r, s) for r, s in zip(here, start, strict=True)]
        ran = above - budget
        if sum(s[0] for s in start) <= budget or (
            above < self.planned[w] and (ran + sum(s[0] for s in start)) * TOL <= above
        ):
            return start
        best = None
        for combo in product(*options):
            if sum(c[0] for c in combo) > budget:
                continue
            cost = self.cost(here, start, combo)
            if best is None or cost < best[0]:
                best = cost, combo
        return best[1] if best else [(0, "out") for _ in here]

    def begin(self, r, whole, breaks, barred, w):
        """A run under its own limits: (km, how) with how one of full, level 1, level 2, easy, out."""
        day, km = self.at(r), r["km"]
        how = "easy" if day in barred[0] else "level2" if day in barred[1] else "full"
        most = self.long_cap(day, km, breaks)
        if r["role"] == "long":
            plan = self.planned[w]
            runs = sum(1 for x in self.runs if x["week"] == w)
            most = min(most, max(LONG_SHARE[runs], F(km, plan) + F(5, 100)) * whole)
        if r["role"] == "quality" and how != "easy":
            for level in range(2 if how == "level2" else 0, 3):
                if r["levels"][level][0] <= most or (level == 0 and km <= most):
                    return r["levels"][level][0], ("full", "level1", "level2")[level]
            how = "easy"
            km = r["km"]
        km = min(km, int(most))
        return (km, how) if km >= SHORTEST else (0, "out")

    def soften(self, here, start, whole, w):
        """The hard part's share: levels first, then run easy."""
        plan = self.planned[w]
        if whole >= plan:
            return start
        wrote = sum(r["levels"][0][1] for r in self.runs if r["week"] == w and r["role"] == "quality")
        limit = max(KAPPA, F(wrote, plan) + F(5, 100)) * whole
        past = sum(
            r["levels"][0][1] for r in self.runs
            if r["week"] == w and r["role"] == "quality" and self.done.get(self.at(r))
        )  # fmt: skip
        start = list(start)

        def hard():
            rows = {"full": 0, "level1": 1, "level2": 2}
            return past + sum(
                r["levels"][rows[how]][1]
                for r, (_, how) in zip(here, start, strict=True)
                if r["role"] == "quality" and how in rows
            )

        order = [i for i, r in enumerate(here) if r["role"] == "quality"]
        order.sort(key=lambda i: (not here[i]["supporting"], -self.at(here[i])))
        for step in ("level1", "level2", "easy"):
            for i in order:
                if hard() <= limit:
                    return start
                km, how = start[i]
                if how in ("easy", "out") or (how, step) in (
                    ("level1", "level1"),
                    ("level2", "level1"),
                    ("level2", "level2"),
                ):
                    continue
                if step == "easy":
                    start[i] = (km, "easy")
                else:
                    start[i] = (here[i]["levels"][int(step[-1])][0], step)
        return start

    def options(self, r, begin):
        """Everything this run could become: whole kilometres, or whole repetitions."""
        km, how = begin
        if how == "out":
            return [begin]
        small = max(F(1), r["km"] * F(8, 100))
        lower = [k for k in range(SHORTEST, km) if r["km"] - k >= small] if km > SHORTEST else []
        if r["role"] == "quality" and how != "easy":
            rows = ["full", "level1", "level2"]
            found = [begin] + [(r["levels"][i][0], rows[i]) for i in range(rows.index(how) + 1, 3)]
            easy = [(k, "easy") for k in range(SHORTEST, km + 1) if k == km or r["km"] - k >= small]
            return [*found, *easy, (0, "out")]
        return [begin, *((k, how) for k in lower), (0, "out")]

    def cost(self, here, start, combo):
        """The cut order as numbers: what is cut last weighs most."""
        stages = [0] * 12
        for r, (km0, how0), (km, how) in zip(here, start, combo, strict=True):
            full, lost = r["km"], km0 - km
            easy = r["role"] == "easy" or how == "easy" or (how == "out" and how0 == "easy")
            if r["role"] == "quality" and how0 != "easy" and how != how0:
                if how.startswith("level"):
                    stages[7] += 1 if how == "level2" else 0
                    stages[6] += 1
                    continue
                stages[4 if r["supporting"] else 9] += 1
                easy, lost = True, km0 - km
            if how == "out" and how0 != "out":
                stages[11] += 1 if r["role"] != "long" else 100
            if easy:
                self.peel(stages, full, km0, lost, ((0, (3, 4)), (2, (1, 2)), (8, (0, 1))))
            elif r["role"] == "long":
                self.peel(stages, full, km0, lost, ((1, (85, 100)), (5, (3, 5)), (10, (0, 1))))
        return list(reversed(stages))

    @staticmethod
    def peel(stages, full, begin, lost, bands):
        upper = begin
        for stage, (part_of, whole) in bands:
            floor = min(upper, max(-(-full * part_of // whole), SHORTEST))
            part = min(lost, upper - floor)
            stages[stage] += part
            lost, upper = lost - part, floor
