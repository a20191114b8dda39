"""Re-balancing one athlete in the core alone, with ratios in one run.

Aims (issue 5): 16 weeks of 5 days at most 10 ms at the median and 60 ms at the 95th percentile on one free core;
52 weeks at most 5 times 12 weeks. Processor time, and beside it the ratio to a fixed piece of plain Python, since
milliseconds depend on the machine and on who else uses it. Exits with 1 over twice the aim, or over the growth.

    python -m tests.benchmarks.bench_replanning
"""

import random
import sys
from collections.abc import Callable
from datetime import timedelta
from fractions import Fraction
from statistics import median, quantiles
from time import process_time

from plans.training.replanning import rebalance
from plans.training.schedule import Inputs, Level, Log, Session, Week

from tests.training.planning import KM, MONDAY  # isort: skip

MEDIAN_MS, P95_MS, GROWTH, BUSY = 10.0, 60.0, 5.0, 2
KINDS = ("base", "build", "build", "recovery")
DAYS = (1, 2, 3, 5, 6)


def athlete(seed: int, weeks: int) -> Inputs:
    """Some weeks gone by, a break or two, single misses, a few days not free: somebody to re-balance."""
    rng = random.Random(seed)
    plan, written = [], []
    for w in range(weeks):
        left = weeks - w
        kind = "race" if left == 1 else "taper" if left < 4 else "peak" if left == 4 else KINDS[w % 4]
        share = {"recovery": 75, "taper": 65, "race": 45}.get(kind, 100)
        written.append(Week(MONDAY + timedelta(days=7 * w), kind))
        for d in DAYS:
            plan.append(session(w, d, share))
    today = rng.randrange(7, 7 * weeks * 2 // 3)
    off = rng.randrange(0, today)
    length = rng.choice((3, 7, 12, 20))
    logs = []
    for s in plan:
        n = (s.day - MONDAY).days
        if n >= today:
            continue
        if off <= n < off + length or rng.random() < 0.08:
            logs.append(Log(s.day, s.key, "missed", reason=rng.choice(("time", "ill", "tired"))))
        else:
            logs.append(Log(s.day, s.key, "done", s.mm, s.s))
    days = (rng.randrange(today, 7 * weeks) for _ in range(6))
    minutes = {MONDAY + timedelta(days=n): rng.choice((0, 45, 75)) for n in days}
    return Inputs(
        tuple(written), tuple(plan), MONDAY + timedelta(days=today), logs=tuple(logs), minutes=minutes
    )


def session(week: int, day: int, share: int) -> Session:
    when, key = MONDAY + timedelta(days=7 * week + day), f"{week}-{day}"
    if day == 1:
        km = 12 * share // 100
        rows = ((Fraction(1), km), (Fraction(4, 5), km - 1), (Fraction(3, 5), km - 2))
        levels = tuple(Level(f, n * KM, n * 330, (n - 4) * KM) for f, n in rows)
        return Session(
            key, when, "quality", km * KM, km * 330, levels=levels, hard_mm=(km - 4) * KM, s_per_km=360
        )
    km = (20 + min(week, 12)) * share // 100 if day == 6 else 9 * share // 100
    return Session(key, when, "long" if day == 6 else "easy", km * KM, km * 360, s_per_km=360)


def timed(work: Callable[[], object]) -> float:
    start = process_time()
    work()
    return (process_time() - start) * 1000


def yardstick() -> int:
    """A fixed piece of plain Python: exact sums of fractions."""
    total = Fraction(0)
    for n in range(1, 1500):
        total += Fraction(n % 17, 20)
    return total.numerator


def times(weeks: int, athletes: int = 60) -> list[float]:
    everybody = [athlete(seed, weeks) for seed in range(athletes)]
    rebalance(everybody[0])
    return [min(timed(lambda one=one: rebalance(one)) for _ in range(3)) for one in everybody]  # type: ignore[misc]


def main() -> int:
    sixteen, twelve, year = times(16), times(12), times(52)
    plain = min(timed(yardstick) for _ in range(5))
    middle, p95 = median(sixteen), quantiles(sixteen, n=20)[-1]
    growth = median(year) / median(twelve)
    print(
        f"16 weeks x 5 days: median {middle:.1f} ms, 95th percentile {p95:.1f} ms (aims {MEDIAN_MS:.0f} and {P95_MS:.0f})"
    )
    print(f"  {middle / plain:.1f} times the yardstick of {plain:.1f} ms")
    print(f"52 weeks over 12 weeks: {growth:.1f} times (aim {GROWTH:.0f}; linear would be 4.3)")
    return int(middle > BUSY * MEDIAN_MS or p95 > BUSY * P95_MS or growth > GROWTH)


if __name__ == "__main__":
    sys.exit(main())
