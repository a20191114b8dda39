"""One property, tried twice: a few hundred examples every time, thousands of fresh ones with `-m long`."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]


def each(*strategies):
    """The same property twice: 300 examples now, 5,000 with `-m long`."""

    def wrap(check):
        few = settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=SLOW)
        many = settings(max_examples=5000, deadline=None, suppress_health_check=SLOW)

        @few
        @given(st.tuples(*strategies))
        def test_now(self, found):
            check(*found)

        @pytest.mark.long
        @many
        @given(st.tuples(*strategies))
        def test_long(self, found):
            check(*found)

        name = "Test" + "".join(part.title() for part in check.__name__.split("_"))
        return type(name, (), {"test_now": test_now, "test_long": test_long, "__doc__": check.__doc__})

    return wrap
