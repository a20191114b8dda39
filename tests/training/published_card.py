"""One pace card for the planner's tests: a runner of 50 minutes over 10 km."""

from athletes.running.paces import make_card
from athletes.running.performance import Result
from athletes.running.units import TEN_K, Duration

CARD = make_card(Result(TEN_K, Duration.from_min(50)))
