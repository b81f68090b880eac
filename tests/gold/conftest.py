"""Failures of the shared checks show their figures."""

import pytest

pytest.register_assert_rewrite("tests.gold.worked")
