"""Some cases with the fast tests, the rest with the slow ones."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis.strategies import SearchStrategy


def one_in(step: int, cases: Iterable[tuple]) -> list[Any]:
    """Every `step`th case with the fast tests, the others marked slow; a case is a test's arguments."""
    return [
        pytest.param(*case, marks=pytest.mark.slow if place % step else ())
        for place, case in enumerate(cases)
    ]


def holds_for(*strategies: SearchStrategy, few: int, many: int) -> Callable:
    """Hold a property for a few examples with the fast tests, and for many with the slow ones.

    The examples are the same at every run: a chance failure would only say "try again".
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
