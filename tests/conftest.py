"""What every test shares: an empty home folder and its own record, never the user's."""

from __future__ import annotations

import os
import shutil
import tempfile

# Set before anything reads them. Workers of a parallel run inherit the settings of the first process. They
# share one home folder, so that one worker can use what a library has compiled for another.
IS_WORKER = "PYTEST_XDIST_WORKER" in os.environ
if not IS_WORKER:
    HOME = tempfile.mkdtemp(prefix="triage-tests-")
    os.environ["HOME"] = os.environ["USERPROFILE"] = HOME
    for name in [name for name in os.environ if name.startswith("XDG_")]:
        del os.environ[name]
    # Tests already run in parallel: threads of one would only wait for those of another.
    os.environ |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    # Each graph is evaluated only a few times, and compiling takes a hundred times as long as interpreting.
    # Sampled graphs are compiled all the same: nutpie asks for that by name.
    os.environ.setdefault("PYTENSOR_FLAGS", "linker=py,optimizer=None")

import pytest  # noqa: E402
from hypothesis import settings  # noqa: E402

# No deadline, because the machine may be busy. Every run has the same examples, so a test fails only after
# a change.
settings.register_profile("house", deadline=None, derandomize=True)
settings.load_profile("house")


def pytest_configure(config):
    # Numba does not compile in quick tests. Set before anything imports Numba, and for the workers too.
    if not IS_WORKER and "not slow" in config.option.markexpr:
        os.environ.setdefault("NUMBA_DISABLE_JIT", "1")


def pytest_unconfigure():
    if not IS_WORKER:
        shutil.rmtree(HOME, ignore_errors=True)


@pytest.fixture(scope="session", autouse=True)
def record_of_the_tests(tmp_path_factory):
    """Servers and commands that a test starts inherit this."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TRIAGE_RECORD", str(tmp_path_factory.mktemp("record") / "record.sqlite"))
        yield
