"""Prices by model as a file: what is written is read again; a faulty file is refused, every fault told."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.domain.shop.model_csv import (
    MOST_BYTES,
    models_text,
    read_models,
    read_models_bytes,
    read_models_text,
)
from triage.domain.shop.model_names import model_key
from triage.domain.shop.model_table import COLUMNS, MOST_ROWS
from triage.domain.shop.price_book import ModelPrice
from triage.errors import SettingsError

PARTS = {"display": "display", "back-glass": "back glass", "battery": "battery"}
TODAY = date(2026, 11, 25)
HEAD = ",".join(COLUMNS) + "\n"


def faults(text, name="list.csv"):
    content = text if isinstance(text, bytes) else text.encode("utf-8")
    with pytest.raises(SettingsError) as refusal:
        read_models_bytes(content, name, PARTS, TODAY)
    return refusal.value.faults


def told(text):
    return [(fault.line, fault.field, fault.wrong) for fault in faults(text)]


# -- what is written is read again ----------------------------------------------------
money = st.integers(0, 10**9).map(lambda cents: cents / 100)
days = st.dates(date(1970, 1, 1), TODAY)
names = st.from_regex(r"[^\W_][^;\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]{0,30}", fullmatch=True).map(
    str.strip
)


@st.composite
def model_price(draw, name):
    working = draw(st.none() | money)
    limited = None if working is None else draw(st.none() | money.filter(lambda one: one <= working))
    good, broken = draw(st.none() | money), draw(st.none() | money)
    has_device = any(one is not None for one in (working, limited, good, broken))
    parts = draw(st.dictionaries(st.sampled_from(list(PARTS)), money, min_size=0 if has_device else 1))
    lead = st.lists(st.integers(0, 36500), min_size=3, max_size=3)
    return ModelPrice(
        name, working, parts, limited, good, broken, draw(st.none() | days) if has_device else None,
        {part: tuple(sorted(d / 10 for d in draw(lead))) for part in parts if draw(st.booleans())},
        {part: draw(days) for part in parts if draw(st.booleans())},
    )  # fmt: skip


lists = st.lists(names, max_size=5, unique_by=model_key).flatmap(
    lambda found: st.tuples(*(model_price(name) for name in found))
)


@given(lists)
def test_what_is_written_is_read_again(models):
    text = models_text(models)
    assert read_models_text(text, "x", PARTS, TODAY) == models
    assert models_text(read_models_text(text, "x", PARTS, TODAY)) == text


@given(lists, st.sampled_from(";\t"))
def test_a_spreadsheet_s_separator_and_decimal_comma_read_the_same(models, separator):
    import csv
    import io

    rows = list(csv.reader(io.StringIO(models_text(models))))
    figures = [place for place, name in enumerate(COLUMNS) if name not in ("model", "item", "checked_on")]
    for row in rows[1:]:
        for place in figures:
            row[place] = row[place].replace(".", ",")
    out = io.StringIO()
    csv.writer(out, delimiter=separator).writerows(rows)
    assert read_models_text(out.getvalue(), "x", PARTS, TODAY) == models


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_with_faults(text):
    for content in (text, HEAD + text):
        try:
            models = read_models_text(content, "x", PARTS, TODAY)
        except SettingsError as refusal:
            assert refusal.faults
        else:
            assert read_models_text(models_text(models), "x", PARTS, TODAY) == models


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(content):
    try:
        read_models_bytes(content, "x", PARTS, TODAY)
    except SettingsError as refusal:
        assert refusal.faults


def test_names_of_columns_and_parts_may_be_in_any_case_and_rows_of_one_model_apart():
    text = (
        "\ufeffModel;ITEM;Price;Checked_On\n\nHeron 3;Whole Device;310,50;25.11.2026\n"
        "Otter;display;80;\n heron 3 ;Back Glass;15;\n"
    )
    first, second = read_models_bytes(text.encode(), "x", PARTS, TODAY)
    assert first == ModelPrice("Heron 3", 310.5, {"back-glass": 15.0}, checked_on=TODAY)
    assert second == ModelPrice("Otter", None, {"display": 80.0})


# -- hostile files --------------------------------------------------------------------
def test_every_fault_of_every_row_is_told_at_once():
    text = (
        HEAD + "Heron 3,whole device,1.240,,,,,,,2026-11-01\n"
        "Heron 3,dispaly,99,5,,,3,2,1,2026-12-01\n"
        ",whole device,,,,,1,2,3,04/03/2026\n"
        "=cmd(),battery,-4,,,,1,,3,\n"
        "Otter,whole device,100,120,,,,,,\n"
        "HERON 3 ,whole device,310,,,,,,,\n"
        "Otter,battery,12,50\n"
    )
    assert told(text) == [
        (2, "price", "'1.240' can mean 1240 or 1.24"),
        (3, "item", "'dispaly' is not a known part; nearest known: display"),
        (3, "lead_shortest", "lead times are not complete, or do not rise"),
        (3, "checked_on", "'2026-12-01' is after today"),
        (4, "model", "is blank"),
        (4, "checked_on", "'04/03/2026' is not a day"),
        (4, "lead_shortest", "is filled for the whole device"),
        (4, "lead_usual", "is filled for the whole device"),
        (4, "lead_longest", "is filled for the whole device"),
        (4, "price", "is blank, and so is every other price"),
        (5, "model", "'=cmd()' is not a possible name"),
        (5, "price", "'-4' is not an amount"),
        (5, "lead_usual", "lead times are not complete, or do not rise"),
        (6, "limited_price", "120 is more than fully working"),
        (7, "item", "whole device of HERON 3 is already on line 2"),
        (8, "row", "has 4 cells"),
    ]
    assert all(fault.file == "list.csv" and fault.allowed for fault in faults(text))


@pytest.mark.parametrize(
    ("text", "field", "wrong"),
    [
        ("", "file", "is empty"),
        ("\n\n", "file", "is empty"),
        ("modle,item,price\n", "header", "'modle' is not a known column; nearest known: model"),
        ("model,item,price,price\n", "header", "the column 'price' is given twice"),
        ("model,item\nA,display\n", "header", "the column 'price' is missing"),
        (b"model,item,price\nHer\xf6n,display,9\n", "file", "is not UTF-8 text"),
        ("model,item,price\n".encode("utf-16"), "file", "is not UTF-8 text"),
        ('model,item,price\nA,"dis\nplay",9\n', "item", "holds a control character or a line break"),
        ("model,item,price\nA\u202e,display,9\n", "model", "holds a control character or a line break"),
        ("model,item,price\nA\x00,display,9\n", "model", "holds a control character or a line break"),
        ("model,item,price\nA;B,display,9\n", "model", "'A;B' is not a possible name"),
        (f"model,item,price\n{'A' * 201},display,9\n", "model", "has 201 characters"),
        ("model,item,price\nA,,9\n", "item", "is blank"),
        ("model,item,price\nA,display,\n", "price", "is blank"),
        (HEAD + "A,whole device,,9,,,,,,\n", "price", "is blank"),
        (HEAD + "A,display,9,,5,,,,,\n", "parts_good_display", "is filled for a part"),
        (HEAD + "A,display,9,,,,1,2,3651,\n", "lead_shortest", "lead times are not complete, or do not rise"),
        ("model,item,price\n" + '"' + "x" * 140_000, "file", "field larger than field limit (131072)"),
        (b"x" * (MOST_BYTES + 1), "file", "is too large"),
        (
            "model,item,price\n" + "".join(f"A{n},display,1\n" for n in range(MOST_ROWS + 1)),
            "file",
            "has too many rows",
        ),
    ],
    ids=lambda value: repr(value)[:40],
)
def test_a_hostile_file_is_refused(text, field, wrong):
    assert (field, wrong) in [(fault.field, fault.wrong) for fault in faults(text)]


def test_a_file_that_is_not_there_or_no_file_is_refused(tmp_path):
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(SettingsError, match="a readable CSV file"):
            read_models(path)
