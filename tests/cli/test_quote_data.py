"""`triage quote-data`: a quote to save data from a shell."""

from __future__ import annotations

import json

import pytest

from triage.shipped import shipped

HANDSET = shipped("synthetic_cases/devices/rain-handset.toml")
KNOWN = ("--chips", "yes", "--touch", "works", "--code", "yes", "--as-of", "2026-11-25")


def test_a_wet_handset_whose_data_are_wanted_gets_a_price_and_its_steps(triage):
    said = triage("quote-data", HANDSET, *KNOWN)
    words = " ".join(said.out.split())
    assert said.code == 0 and "no data, no fee" in words and "Lowest" not in said.err
    assert "Saved: all 14 in 20" in words and "invented demo figures" in words
    assert words.index("clean off the liquid") < words.index("Dry the board") < words.index("Copy at once")


def test_or_a_sentence_that_says_which_fee_and_price_would(triage):
    said = triage("quote-data", HANDSET, "--as-of", "2026-11-25")
    assert said.code == 1 and said.out == ""
    words = " ".join(said.err.split())
    assert "no price without a fee meets your rule" in words and "with a fee for trying of €" in words
    fee = words.split("a fee for trying of €")[-1].split(",")[0]
    assert triage("quote-data", HANDSET, "--fee", fee, "--as-of", "2026-11-25").code == 0


def test_its_document_lists_what_matters_in_order(triage, tmp_path):
    page, pdf = tmp_path / "data.html", tmp_path / "data.pdf"
    more = ("--matters", "photographs", "--matters", "messages", "--html", page, "--pdf", pdf)
    said = triage("quote-data", HANDSET, *KNOWN, *more)
    assert said.code == 0 and str(page) in said.out
    text = page.read_text(encoding="utf-8")
    assert text.index("photographs") < text.index("messages") and "This is not an offer" in text
    assert pdf.read_bytes().startswith(b"%PDF-")
    again = triage("quote-data", HANDSET, *KNOWN, *more)
    assert again.code != 0 and "already exists" in again.err


def test_irreplaceable_data_are_referred_first(triage):
    said = triage("quote-data", HANDSET, *KNOWN, "--irreplaceable")
    assert "advise a licensed data recovery practice before you touch it" in " ".join(said.out.split())


@pytest.mark.parametrize(("option", "value"), [("--chips", "no"), ("--code", "no"), ("--touch", "no")])
def test_what_rules_it_out_is_refused_with_a_referral(triage, option, value):
    said = triage("quote-data", HANDSET, *KNOWN, option, value)
    assert said.code == 1 and "refer the owner" in said.err


def test_json_holds_chances_and_ways(triage):
    told = json.loads(triage("quote-data", HANDSET, *KNOWN, "--json").out)
    assert told["chances"]["all"] + told["chances"]["part"] + told["chances"]["none"] == pytest.approx(1.0)
    assert [way["fee"] for way in told["ways"]] == [0.0, 40.0] and told["schema"] == 1
