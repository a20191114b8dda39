"""Reading a line of shorthand, beside a plain regular expression that only cuts the same lines into words.

Prints the median and the 95th percentile for the lines of issue 4, uncached. Processor time of this thread, so that neighbours on the machine don't count.
Aim: one line under 2 ms. Run: python -m tests.benchmarks.bench_shorthand
"""

import re
import statistics
import time

from plans.training.describing import lines
from plans.training.measuring import measure
from plans.training.shorthand import parse, write
from tests.training.session_cards import wide_card
from tests.training.test_shorthand import UNDERSTOOD

TEXTS = [text for text, _ in UNDERSTOOD]
ROUNDS = 40
LIMIT_MS = 2.0


def milliseconds(work):
    """Sorted times of one call of `work` for each text, over all rounds."""
    found = []
    for _ in range(ROUNDS):
        for text in TEXTS:
            start = time.thread_time()
            work(text)
            found.append((time.thread_time() - start) * 1000)
    return sorted(found)


def told(name, found):
    median, high = statistics.median(found), found[len(found) * 95 // 100]
    print(f"{name:32} median {median:7.3f} ms   95 % {high:7.3f} ms")
    return median, high


def main():
    read = parse.__wrapped__  # without its cache
    for text in TEXTS:
        read(text)  # builds the parser's tables once
    word = re.compile(r"\w+|\S")
    _, high = told("read a line", milliseconds(read))
    told("words by a regular expression", milliseconds(word.findall))
    told("read a line seen before", milliseconds(parse))
    told("write a line", milliseconds(lambda text: write(parse(text))))
    told("measure for one athlete", milliseconds(lambda text: measure(parse(text), wide_card)))
    told("lines for one athlete", milliseconds(lambda text: lines(parse(text), wide_card, "km")))
    print(f"limit {LIMIT_MS} ms at the 95th percentile: {'kept' if high < LIMIT_MS else 'BROKEN'}")
    return 0 if high < LIMIT_MS else 1


if __name__ == "__main__":
    raise SystemExit(main())
