"""What every test shares: a shop's record of its own, never the user's."""

from __future__ import annotations

import pytest
from hypothesis import settings

# How long an example takes is no property of the program: the machine may be loaded.
settings.register_profile("house", deadline=None)
settings.load_profile("house")


@pytest.fixture(scope="session", autouse=True)
def record_of_the_tests(tmp_path_factory):
    """Servers and commands that a test starts inherit this."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TRIAGE_LEDGER", str(tmp_path_factory.mktemp("record") / "record.sqlite"))
        yield
