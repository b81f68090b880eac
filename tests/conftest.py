"""What every test shares: an empty home folder, a shop's record of its own, never the user's."""

from __future__ import annotations

import os
import shutil
import tempfile

# Before anything reads them. The workers of a parallel run inherit what the first process sets:
# one home for all, so that what a library compiles for one of them serves the others too.
IS_WORKER = "PYTEST_XDIST_WORKER" in os.environ
if not IS_WORKER:
    HOME = tempfile.mkdtemp(prefix="triage-tests-")
    os.environ["HOME"] = os.environ["USERPROFILE"] = HOME
    for name in [name for name in os.environ if name.startswith("XDG_")]:
        del os.environ[name]
    # Tests run beside each other already: threads of one would only wait for those of another.
    os.environ |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    # Graphs are looked at a few times each: to compile them takes a hundred times as long as to
    # interpret them. What is sampled is compiled all the same: nutpie asks for it by name.
    os.environ.setdefault("PYTENSOR_FLAGS", "linker=py,optimizer=None")

import pytest  # noqa: E402
from hypothesis import settings  # noqa: E402

# How long an example takes is no property of the program: the machine may be loaded. Every run has the
# same examples: who changed nothing sees nothing fail.
settings.register_profile("house", deadline=None, derandomize=True)
settings.load_profile("house")


def pytest_configure(config):
    # What is only looked at is not compiled either. Before anything imports Numba, and for the workers too.
    if not IS_WORKER and "not slow" in config.option.markexpr:
        os.environ.setdefault("NUMBA_DISABLE_JIT", "1")


def pytest_unconfigure():
    if not IS_WORKER:
        shutil.rmtree(HOME, ignore_errors=True)


@pytest.fixture(scope="session", autouse=True)
def record_of_the_tests(tmp_path_factory):
    """Servers and commands that a test starts inherit this."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TRIAGE_LEDGER", str(tmp_path_factory.mktemp("record") / "record.sqlite"))
        yield
