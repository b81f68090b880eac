"""A shop in a folder of its own, and a place where it is put back."""

import pytest

from tests.workflows.backup.whole_shop import make_shop
from triage.workflows.backup.back_up import back_up_shop


@pytest.fixture(autouse=True)
def home(monkeypatch, tmp_path):
    """The folder of the default record."""
    for name in ("TRIAGE_BELIEFS", "TRIAGE_PHOTOS"):
        monkeypatch.delenv(name, raising=False)
    folder = tmp_path / "bench"
    monkeypatch.setenv("TRIAGE_RECORD", str(folder / "record.sqlite"))
    return folder


@pytest.fixture
def photos(home):
    """A shop is there; its photographs."""
    return make_shop()


@pytest.fixture
def kept(photos, tmp_path):
    """A backup of that shop."""
    return back_up_shop(tmp_path / "shop.zip").file


@pytest.fixture
def elsewhere(tmp_path):
    """Where a record on another machine would be."""
    return tmp_path / "other" / "bench.sqlite"
