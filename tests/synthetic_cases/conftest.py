import pytest

from synthetic_cases.generate import generate_history
from synthetic_cases.truth import load_truth
from triage.domain.catalogue import load_catalogue


@pytest.fixture(scope="session")
def truth():
    return load_truth()


@pytest.fixture(scope="session")
def catalogue():
    return load_catalogue()


@pytest.fixture(scope="session")
def history(truth):
    return generate_history(truth, truth.seed)
