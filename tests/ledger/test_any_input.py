"""Random and mutated input gives an answer or a refusal; `tests/benchmarks/program/fuzz.py` runs longer."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.ledger.any_input import TARGETS, answers_or_refuses

BRIEFLY = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
TOKENS = st.sampled_from(
    [*"\"',;\n\r[]={\x00\ufeffé", "[[", "-1", "1e400", "9" * 400, "nan", "inf", "true", "none", "0001-01-01",
     "9999-12-31", "2026-W01-1", "12:00:00", "١٢"]
)  # fmt: skip
CHANGES = st.lists(
    st.tuples(st.floats(0, 1), st.integers(0, 12), TOKENS | st.text(max_size=6)), min_size=1, max_size=5
)


def mutated(text, changes):
    for at, length, new in changes:
        place = int(at * len(text))
        text = text[:place] + new + text[place + length :]
    return text


@pytest.mark.parametrize("target", TARGETS)
@BRIEFLY
@given(changes=CHANGES)
def test_mutated_valid_input_is_read_or_refused(target, changes):
    text = mutated(TARGETS[target][0], changes)
    answers_or_refuses(target, text.encode("utf-8", "surrogatepass"))


@pytest.mark.parametrize("target", TARGETS)
@BRIEFLY
@given(data=st.binary(max_size=60) | st.text(max_size=60).map(lambda text: text.encode("utf-8", "replace")))
def test_arbitrary_input_is_read_or_refused(target, data):
    answers_or_refuses(target, data)


@pytest.mark.parametrize("target", TARGETS)
def test_the_valid_input_is_read(target):
    TARGETS[target][1](TARGETS[target][0].encode("cp1252" if target == "sheet" else "utf-8"))
