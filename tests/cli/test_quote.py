"""`triage quote`: the document in files, the bench's figures on stdout, and nothing half-written."""

from __future__ import annotations

import json
import os
from datetime import date

import pikepdf
import pytest

from tests.reports.pdf_text import pdf_text
from tests.tiers import one_in
from triage.domain.money import money_text
from triage.domain.units.unit_file import load_unit
from triage.workflows.answers.quote import quote_unit
from triage.workflows.shop.shop import open_shop

OWNERSHIP = 'lock = "locked-to-owner"\nproof_recorded = true\n'


@pytest.fixture
def owners_file(unit_file):
    unit_file.write_text(unit_file.read_text().replace('lock = "clear"\n', OWNERSHIP))
    return unit_file


def test_it_writes_the_document_and_tells_the_bench(triage, owners_file, tmp_path):
    pdf, html = tmp_path / "quote.pdf", tmp_path / "quote.html"
    said = triage("quote", owners_file, "--pdf", pdf, "--html", html, "--customer", "Ida W.", "--number", "7")
    assert said.code == 0 and said.err == ""
    with pikepdf.open(pdf) as document:
        assert document.open_metadata()["dc:title"] == "Quote for a repair 7"
    text = pdf_text(pdf.read_bytes()).replace(" ", "")
    shop = open_shop()
    quote = quote_unit(load_unit(owners_file, shop.catalogue, shop.prices), shop, "fixed")
    assert money_text(quote.offer.price, "EUR") in text and "IdaW." in text
    assert "Ida W." in html.read_text() and "not an offer" in html.read_text()
    assert said.out.startswith(f"Quote 7: {money_text(quote.offer.price, 'EUR')}")
    margin = money_text(quote.bench.expected_margin, "EUR")
    assert f"Expected margin {margin}" in said.out
    assert margin not in html.read_text() and margin.replace(" ", "") not in text
    assert f"Document for the owner: {pdf}" in said.out
    assert sorted(path.name for path in tmp_path.iterdir()) == ["quote.html", "quote.pdf", "unit.toml"]


def test_json_is_what_the_function_says(triage, owners_file):
    said = triage("quote", owners_file, "--kind", "staged", "--as-of", "2026-11-25", "--json")
    told = json.loads(said.out)
    shop = open_shop(today=date(2026, 11, 25))
    quote = quote_unit(load_unit(owners_file, shop.catalogue, shop.prices), shop, "staged")
    assert told["schema"] == 1 and told["written"] == [] and told["kind"] == "staged"
    assert told["offer"]["price"] == quote.offer.price and told["issued"] == "2026-11-25"
    assert told["offer"]["valid_until"] == "2026-12-09" and told["number"] == quote.number
    assert told["bench"]["expected_margin"] == pytest.approx(quote.bench.expected_margin)
    assert [stage["name"] for stage in told["offer"]["stages"]] == ["counter", "opened", "board level"]


@pytest.mark.parametrize("kind", one_in(4, zip(["fixed", "diagnostic-fee", "staged"], strict=True)))
def test_every_kind_is_written(triage, owners_file, tmp_path, kind):
    pdf = tmp_path / "quote.pdf"
    assert triage("quote", owners_file, "--pdf", pdf, "--kind", kind).code == 0
    assert pdf.read_bytes().startswith(b"%PDF-")


@pytest.mark.slow
def test_the_same_day_gives_the_same_bytes(triage, owners_file, tmp_path):
    files = [tmp_path / "one.pdf", tmp_path / "two.pdf"]
    for pdf in files:
        triage("quote", owners_file, "--pdf", pdf, "--as-of", "2026-11-25")
    assert files[0].read_bytes() == files[1].read_bytes()


def test_a_price_below_cost_is_said_to_the_bench_alone(triage, owners_file, tmp_path):
    pdf = tmp_path / "quote.pdf"
    said = triage("quote", owners_file, "--pdf", pdf, "--price", "5")
    assert said.code == 0 and "BELOW COST" in said.out
    text = pdf_text(pdf.read_bytes()).lower()
    assert "€5.00" in text and "below" not in text and "cost" not in text.replace("costs", "")


@pytest.mark.slow
def test_an_answer_curve_says_what_earns_most(triage, owners_file, tmp_path):
    settings = tmp_path / "settings.toml"
    settings.write_text(
        'shop = "Harbour bench"\ncurrency = "EUR"\n[quoting.acceptance]\nhalf_say_yes = 0.5\nsteepness = 8\n'
    )
    html = tmp_path / "quote.html"
    said = triage("quote", owners_file, "--settings", settings, "--html", html)
    assert said.code == 0, said.err
    assert "Highest expected margin at €" in said.out
    assert "Harbour bench" in html.read_text() and "not an offer" not in html.read_text()
    assert "earns" not in html.read_text().lower()


def test_a_file_that_is_there_is_kept_unless_forced(triage, owners_file, tmp_path, folder_is_untouched):
    pdf, html = tmp_path / "quote.pdf", tmp_path / "quote.html"
    pdf.write_text("kept")
    with folder_is_untouched:
        said = triage("quote", owners_file, "--pdf", pdf, "--html", html)
    assert said.code == 2 and said.out == ""
    assert "quote.pdf, --pdf: already exists; allowed: an unused name, or --force" in said.err
    assert triage("quote", owners_file, "--pdf", pdf, "--html", html, "--force").code == 0
    assert pdf.read_bytes().startswith(b"%PDF-") and html.exists()


def test_every_bad_place_is_named_at_once(triage, owners_file, tmp_path, folder_is_untouched):
    with folder_is_untouched:
        said = triage("quote", owners_file, "--pdf", tmp_path, "--html", tmp_path / "nowhere" / "q.html")
    assert said.code == 2 and "is a folder" in said.err and "its folder does not exist" in said.err
    same = tmp_path / "same"
    assert "is the same file as --pdf" in triage("quote", owners_file, "--pdf", same, "--html", same).err


@pytest.mark.parametrize(
    ("change", "code", "words"),
    [
        (
            ("locked-to-owner", "locked-to-another"),
            1,
            "no quote; do not accept it: its activation lock belongs to somebody",
        ),
        (("display-glass-cracked", "display-glas-cracked"), 2, "nearest known: display-glass-cracked"),
    ],
)
def test_a_refused_device_writes_nothing(
    triage, owners_file, tmp_path, folder_is_untouched, change, code, words
):
    owners_file.write_text(owners_file.read_text().replace(*change))
    with folder_is_untouched:
        said = triage("quote", owners_file, "--pdf", tmp_path / "quote.pdf")
    assert said.code == code and words in said.err and said.out == ""


def test_when_the_second_file_cannot_be_written_neither_is(
    triage, owners_file, tmp_path, folder_is_untouched, monkeypatch
):
    from pathlib import Path

    write = Path.write_bytes

    def full(path, data):
        if ".html." in path.name:
            write(path, data[:10])
            raise OSError(28, "No space left on device", str(path))
        return write(path, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    with folder_is_untouched:
        said = triage("quote", owners_file, "--pdf", tmp_path / "q.pdf", "--html", tmp_path / "q.html")
    assert said.code == 1 and "No space left on device" in said.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--kind", "free"), "--kind"),
        (("--price", "-5"), "not an amount of money"),
        (("--price", "dear"), "not an amount of money"),
        (("--customer", "x" * 201), "too long"),
    ],
)
def test_bad_usage_is_refused(triage, owners_file, arguments, words):
    said = triage("quote", owners_file, *arguments)
    assert said.code == 2 and words in said.err and said.out == ""


def test_files_get_the_user_s_own_permissions(triage, owners_file, tmp_path):
    pdf = tmp_path / "quote.pdf"
    triage("quote", owners_file, "--pdf", pdf)
    (tmp_path / "plain").touch()
    assert os.stat(pdf).st_mode == os.stat(tmp_path / "plain").st_mode


def test_a_hostile_customer_is_written_as_typed(triage, owners_file, tmp_path):
    typed = '#image("/etc/passwd") *bold* $x$ <script>'
    pdf, html = tmp_path / "q.pdf", tmp_path / "q.html"
    triage("quote", owners_file, "--pdf", pdf, "--html", html, "--customer", typed)
    assert typed.replace(" ", "") in pdf_text(pdf.read_bytes()).replace(" ", "").replace("\n", "")
    assert "<script>" not in html.read_text() and "&lt;script&gt;" in html.read_text()
