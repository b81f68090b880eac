"""A shop's own prices by model: saved whole, used by every answer, merged, undone, in the backup."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.shop.model_table import ModelChanges, table_rows
from triage.domain.shop.price_book import ModelPrice
from triage.domain.units.unit import Finding, Ownership, Unit
from triage.errors import SettingsError
from triage.workflows.answers.assess import assess
from triage.workflows.answers.quote import quote_unit
from triage.workflows.backup.back_up import back_up_shop
from triage.workflows.backup.restore import restore_shop
from triage.workflows.backup.words import held_words
from triage.workflows.shop import own_models as module
from triage.workflows.shop.own_books import own_books, own_books_words
from triage.workflows.shop.own_models import (
    can_undo,
    dated,
    keep_models,
    merged,
    models_stamp,
    old_prices,
    own_models,
    own_models_file,
    part_names,
    undo_models,
    without_model,
)
from triage.workflows.shop.shop_files import ShopFiles

TODAY = date(2026, 11, 25)
HERON = ModelPrice("Heron 3", 310.0, {"display": 99.0}, checked_on=date(2026, 11, 13))
OTTER = ModelPrice("Otter", 80.0)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "shop" / "record.sqlite"))
    monkeypatch.delenv("TRIAGE_BELIEFS", raising=False)
    return tmp_path / "shop"


def files_in(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()} if folder.exists() else {}


# -- saving ---------------------------------------------------------------------------
def test_what_is_saved_is_read_and_a_save_can_be_undone_and_redone(home):
    assert own_models() == () and not can_undo() and models_stamp() == ""
    assert keep_models([HERON, OTTER]) == ModelChanges(added=3)
    assert own_models() == (HERON, OTTER)
    changed = replace(HERON, working_price=300.0)
    assert keep_models([changed]) == ModelChanges(changed=1, deleted=1)
    assert undo_models() == ModelChanges(added=1, changed=1) and own_models() == (HERON, OTTER)
    assert undo_models() == ModelChanges(changed=1, deleted=1) and own_models() == (changed,)
    assert not [name for name in files_in(home) if name.startswith(".")]


def test_the_first_save_can_be_undone_too():
    keep_models([HERON])
    assert undo_models() == ModelChanges(deleted=2) and own_models() == ()


def test_a_save_that_changes_nothing_leaves_the_one_before_to_be_undone(home):
    keep_models([HERON])
    keep_models([OTTER])
    before = files_in(home)
    assert keep_models([OTTER]) == ModelChanges() and files_in(home) == before


def test_without_a_save_there_is_nothing_to_undo(home):
    with pytest.raises(SettingsError, match="no earlier state"):
        undo_models()
    assert files_in(home) == {}


def test_a_table_opened_before_another_save_overwrites_nothing(home):
    keep_models([HERON])
    seen = models_stamp()
    keep_models([OTTER])
    before = files_in(home)
    with pytest.raises(SettingsError, match="changed in another window"):
        keep_models([HERON], seen)
    assert files_in(home) == before


def test_a_save_that_fails_half_way_changes_nothing(home, monkeypatch):
    keep_models([HERON])
    before = own_models_file().read_bytes()
    written = module.replace_file

    def fails(path, text):
        if path == own_models_file():
            raise SettingsError([])
        written(path, text)

    monkeypatch.setattr(module, "replace_file", fails)
    with pytest.raises(SettingsError):
        keep_models([OTTER])
    assert own_models_file().read_bytes() == before and own_models() == (HERON,)


def test_a_file_spoilt_by_hand_is_refused_with_its_faults_and_can_be_undone():
    keep_models([HERON])
    keep_models([HERON, OTTER])
    own_models_file().write_text("model,item,price\nHeron 3,whole device,1.240\n")
    for opened in (own_models, lambda: own_books(ShopFiles()).open()):
        with pytest.raises(SettingsError, match=r"line 2, price: '1\.240' can mean 1240 or 1\.24"):
            opened()
    undo_models()
    assert own_models() == (HERON,)


# -- merging and dating ---------------------------------------------------------------
def test_a_file_s_rows_replace_those_of_the_same_price_and_leave_the_others():
    new = ModelPrice("HERON 3", None, {"display": 90.0, "battery": 9.0})
    told = merged([HERON, OTTER], [new])
    assert [entry.model for entry in told] == ["Heron 3", "Otter"]
    assert told[0] == replace(HERON, parts={"display": 90.0, "battery": 9.0}) and told[1] == OTTER
    assert without_model(told, " heron 3") == (OTTER,)


def test_a_price_changed_in_the_table_was_checked_today_unless_another_day_is_entered():
    rows = list(table_rows([HERON, OTTER]))
    assert dated(rows, [HERON, OTTER], TODAY) == rows
    rows[0] |= {"price": "300"}
    rows[2] |= {"price": "85", "checked_on": "2026-11-20"}
    new = {**dict.fromkeys(rows[0], ""), "model": "Wren", "item": "whole device", "price": "50"}
    told = dated([*rows, {}, new], [HERON, OTTER], TODAY)
    assert [row.get("checked_on") for row in told] == ["2026-11-25", "", "2026-11-20", None, "2026-11-25"]


def test_prices_that_are_old_or_have_no_date_are_listed_oldest_first():
    old = replace(OTTER, parts={"display": 9.0}, parts_checked_on={"display": date(2026, 1, 1)})
    assert old_prices([HERON, old], TODAY, 120) == (
        ("Heron 3", "display", None),
        ("Otter", "whole device", None),
        ("Otter", "display", 328),
    )
    assert old_prices([HERON], TODAY, 11)[1] == ("Heron 3", "whole device", 12)


# -- every answer ---------------------------------------------------------------------
def unit(model="", **more):
    owned = Ownership(lock="clear", identity="agrees", proof_recorded=True)
    return Unit("tray 4", "middle", (Finding("back-glass-cracked"),), model=model, ownership=owned, **more)


def test_device_and_quote_look_up_the_model_first_and_say_so():
    listed = replace(HERON, limited_price=200.0, parts={"back-glass": 1.0})
    keep_models([replace(listed, parts_checked_on={"back-glass": date(2026, 1, 1)})])
    shop = own_books(ShopFiles()).open(TODAY)
    by_model, by_class = (assess(unit(name), shop, 60.0) for name in ("heron 3 ", ""))
    assert by_model.priced_by == "price of this model, checked 12 days ago"
    assert by_class.priced_by == "price class middle"
    line, *_ = [line for step in by_model.steps for line in step.parts if line.part == "back-glass"]
    assert (line.price, line.confirmed, line.age_days) == (1.0, False, 328)
    assert "Price of back glass not confirmed: €1.00 assumed (328 days old)." in by_model.notes
    told = quote_unit(unit("Hern 3"), shop, "fixed")
    assert told.bench.priced_by == "price class middle; Hern 3 is not in your price list; nearest: Heron 3"


def test_a_model_s_resale_value_counts_as_if_it_was_entered_for_the_device():
    keep_models([replace(HERON, parts={})])
    shop = own_books(ShopFiles()).open(TODAY)
    by_model, entered = assess(unit("Heron 3"), shop, 60.0), assess(unit(working_price=310.0), shop, 60.0)
    assert (by_model.limit, by_model.expected_margin) == (entered.limit, entered.expected_margin)
    assert by_model.limit > assess(unit(), shop, 60.0).limit
    assert entered.priced_by == "resale value entered for this device; parts by price class middle"


def test_parts_value_and_lost_function_are_the_model_s_too():
    from triage.workflows.answers.pricing import unit_pricing

    listed = replace(HERON, limited_price=155.0, parts_value_good_panel=77.0, parts_value_broken_panel=33.0)
    keep_models([listed])
    shop = own_books(ShopFiles()).open(TODAY)
    told, plain = (unit_pricing(unit(name), shop).whole for name in ("Heron 3", ""))
    # The class lists its parts one by one; a model with a value for all of them outranks the list.
    assert (told.working_price, told.parts_value, told.problem.parts) == (310.0, 77.0, ())
    assert plain.parts_value == pytest.approx(sum(part.price for part in plain.problem.parts))
    assert len(plain.problem.parts) == 5
    broken = replace(unit("Heron 3"), findings=(Finding("display-glass-cracked"),))
    assert unit_pricing(broken, shop).whole.parts_value == 33.0
    means, before = told.sale.mean(axis=1), plain.sale.mean(axis=1)
    assert means[1] == pytest.approx(0.5 * means[0]) and before[1] != pytest.approx(0.5 * before[0])
    # More lost: the further drop is the one learned, path by path.
    assert told.sale[2] / told.sale[1] == pytest.approx(plain.sale[2] / plain.sale[1])
    assert told.sale[0] == pytest.approx(310 / 160 * plain.sale[0])
    assert told.shared_sale.level.mean(axis=1) == pytest.approx([1, 1, 1])
    assert told.shared_sale.level[1] == pytest.approx(plain.shared_sale.level[0])


def test_the_books_in_use_are_told_in_words():
    keep_models([HERON])
    named = ShopFiles()
    files = own_books(named)
    assert files.models == own_models_file()
    assert own_books_words(named, files, files.open().supply).endswith("record.sqlite: model prices.")
    assert ShopFiles.from_environment(files.to_environment()).models == files.models


def test_a_backup_holds_them_and_a_restore_brings_them_back(home, tmp_path):
    keep_models([HERON])
    kept = back_up_shop(tmp_path / "shop.zip", record=False)
    assert "model prices" in held_words(kept.manifest)
    keep_models([OTTER])
    done = restore_shop(kept.file, force=True)
    assert own_models() == (HERON,)
    (part,) = [part for part in done.parts if part.name == "models"]
    assert part.where == own_models_file() and "Otter" in part.aside.read_text()


def test_the_parts_that_may_be_priced_are_the_catalogue_s():
    assert part_names(load_catalogue())["charge-port"] == "charge port (soldered)"
