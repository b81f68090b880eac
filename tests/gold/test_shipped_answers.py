"""Answers for the shipped devices, lot and quotes change only with a new fixture."""

from __future__ import annotations

import json

import pytest

from tests.gold import shipped_answers as shipped
from tests.tiers import one_in

KEPT = json.loads(shipped.FILE.read_text(encoding="utf-8"))


@pytest.fixture(autouse=True)
def no_record(monkeypatch, tmp_path):
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "record.sqlite"))


def near(kept: object):
    """Equality, with numbers to a tenth of a cent."""
    if isinstance(kept, dict):
        return {key: near(item) for key, item in kept.items()}
    if isinstance(kept, list):
        return [near(item) for item in kept]
    return pytest.approx(kept, abs=1e-3) if isinstance(kept, float) else kept


@pytest.mark.parametrize("command", one_in(3, zip(shipped.device_commands(), strict=True)), ids=" ".join)
def test_a_device_is_answered_as_before(command):
    assert shipped.device_answer(command) == near(KEPT[" ".join(command)])


def test_a_lot_is_scored_as_before(tmp_path):
    assert shipped.answered("lot", str(shipped.part_of_lot(tmp_path))) == near(KEPT["lot"])


@pytest.mark.slow
def test_the_whole_lot_is_scored_as_before():
    assert shipped.answered("lot", str(shipped.shipped("synthetic_cases/lot.csv"))) == near(KEPT["whole lot"])


@pytest.mark.slow
@pytest.mark.parametrize("limits", shipped.CHOSEN, ids=" ".join)
def test_a_lot_is_chosen_from_as_before(limits):
    lot = str(shipped.shipped("synthetic_cases/lot.csv"))
    assert shipped.answered("choose", lot, *limits) == near(KEPT[" ".join(("choose", *limits))])
