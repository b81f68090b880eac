"""Several benches on one record of a server: what they share lies in one folder, however they name it."""

from __future__ import annotations

import pytest

from triage.ledger.opening import folder_of_record, ledger_url
from triage.workflows.background.runner import work_home
from triage.workflows.jobs.photos import photo_folder_at
from triage.workflows.shop.learned_chances import learned_folder
from triage.workflows.shop.own_sets import sets_home
from triage.workflows.shop.own_settings import own_settings_file

# The same database, as the machine that serves it and as another one names it.
HERE, ELSEWHERE = "postgresql://ada@localhost/bench", "postgresql://ben@server.example:5432/bench"


def places(where):
    url = ledger_url(where)
    return {photo_folder_at(url), learned_folder(where), own_settings_file(where), sets_home(where)}


@pytest.fixture
def homes(tmp_path, monkeypatch):
    """Which machine's user folder the program finds."""
    for name in ("TRIAGE_SHARED", "TRIAGE_PHOTOS", "TRIAGE_BELIEFS", "TRIAGE_WORK"):
        monkeypatch.delenv(name, raising=False)

    def at(machine):
        monkeypatch.setattr("triage.ledger.opening.user_data_path", lambda *_, **__: tmp_path / machine)

    return at


def test_with_a_shared_folder_every_bench_has_the_same_files(homes, tmp_path, monkeypatch):
    shared = tmp_path / "shared"
    monkeypatch.setenv("TRIAGE_SHARED", str(shared))
    homes("first")
    first = places(HERE)
    homes("second")
    assert places(ELSEWHERE) == first
    assert all(place.is_relative_to(shared) for place in first)
    # Work under way belongs to the machine it runs on.
    monkeypatch.setenv("TRIAGE_RECORD", ELSEWHERE)
    assert work_home() == tmp_path / "second" / "work"


def test_without_one_each_machine_has_its_own(homes, tmp_path):
    homes("first")
    first = places(HERE)
    homes("second")
    assert not places(HERE) & first and all(p.is_relative_to(tmp_path / "first") for p in first)


def test_a_record_in_a_file_keeps_its_files_beside_it(homes, tmp_path, monkeypatch):
    monkeypatch.setenv("TRIAGE_SHARED", str(tmp_path / "shared"))
    assert folder_of_record(ledger_url(str(tmp_path / "r" / "record.sqlite"))) == tmp_path / "r"
