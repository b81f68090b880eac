"""Some cases run with the quick tests, the rest with the slow ones."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis.strategies import SearchStrategy


def one_in(step: int, cases: Iterable[tuple]) -> list[Any]:
    """Run every `step`th case with the quick tests and mark the others slow; a case is a test's arguments."""
    return [
        pytest.param(*case, marks=pytest.mark.slow if place % step else ())
        for place, case in enumerate(cases)
    ]


def holds_for(*strategies: SearchStrategy, few: int, many: int) -> Callable:
    """Test a property on a few examples with the quick tests, and on many with the slow ones.

    Every run has the same examples, so no failure depends on chance.
    """

    def decorate(check: Callable) -> Callable:
        @pytest.mark.parametrize("examples", [few, pytest.param(many, marks=pytest.mark.slow)])
        def test(examples: int) -> None:
            steady = settings(
                max_examples=examples,
                deadline=None,
                derandomize=True,
                suppress_health_check=list(HealthCheck),
            )
            steady(given(*strategies)(check))()

        return test

    return decorate
