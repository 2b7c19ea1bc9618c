"""What pairs are ranked by: the front of those that no other beats."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from analyser.colourway import scores


# By its definition: a row is out where another is as good on every score and better on one.
@settings(max_examples=200, deadline=None)
@given(
    arrays(float, st.tuples(st.integers(1, 40), st.just(5)), elements=st.sampled_from([0.0, 0.3, 0.5, 1.0]))
)
def test_the_front_is_what_no_other_beats(table):
    beaten = [
        any(np.all(other >= row) and np.any(other > row) for other in table) for row in table
    ]  # fmt: skip
    assert scores.pareto_front(table).tolist() == [k for k, out in enumerate(beaten) if not out]
