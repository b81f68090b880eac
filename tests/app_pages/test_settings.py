"""The settings page: the demo's rules shown, a shop's own kept, refusals said."""

from __future__ import annotations

import io
import zipfile
from datetime import date

import pytest
import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.domain.shop.settings import Settings, load_settings
from triage.errors import BackupError
from triage.reports.wording.settings import all_settings
from triage.shipped import shipped
from triage.workflows.backup import back_up
from triage.workflows.shop.own_settings import own_settings_file, settings_values
from triage.workflows.shop.shop import DEMO_SETTINGS

# Said by the shop in a file of its own, or no number: not on the page.
_NOT_ON_THE_PAGE = {"note", "quoting.acceptance.half_say_yes", "quoting.acceptance.steepness"}


@pytest.fixture
def settings_page(page):
    page.run()
    page.switch_page(str(PAGES["settings"])).run()
    assert not page.exception
    return page


def said(page):
    return "\n".join(e.value for kind in ("success", "error", "info", "caption") for e in page.get(kind))


def keep(page):
    page.button[[b.label for b in page.button].index("Save settings")].click().run()
    assert not page.exception


def test_every_setting_of_a_shop_has_its_words_and_no_words_are_left_over():
    held = set(settings_values(load_settings(shipped(DEMO_SETTINGS)))) | set(
        settings_values(Settings("x", "EUR"))
    )
    assert {words.place for words in all_settings()} == held - _NOT_ON_THE_PAGE


def test_the_demo_s_are_shown_and_nothing_is_written_until_kept(settings_page):
    assert "invented" in said(settings_page)
    assert settings_page.number_input("settings-go_rule.margin").value == 20
    assert not own_settings_file().exists()


def test_a_shop_keeps_its_own_and_every_page_uses_them(settings_page):
    settings_page.number_input("settings-go_rule.margin").set_value(500.0)
    settings_page.text_input("settings-shop").set_value("Ours <b>$x$")
    keep(settings_page)
    own = load_settings(own_settings_file())
    demo = load_settings(shipped(DEMO_SETTINGS))
    assert own.go_rule.margin == 500 and own.shop == "Ours <b>$x$" and "Invented" not in own.note
    changed = {"shop", "note", "go_rule.margin"}
    assert {p for p, v in settings_values(own).items() if settings_values(demo).get(p) != v} == changed
    assert literal("Lowest expected margin: 500, was 20") in said(settings_page)
    settings_page.switch_page(str(PAGES["device"])).run()
    assert "Buy" not in settings_page.header[0].value


def test_what_cannot_stand_is_refused_and_nothing_is_written(settings_page):
    settings_page.text_input("settings-currency").set_value("eu")
    keep(settings_page)
    assert literal("three-letter currency code") in said(settings_page)
    assert not own_settings_file().exists()


def test_a_spoilt_file_is_said_and_can_be_set_aside(settings_page):
    own_settings_file().write_text("shop = 1\nbench_rate = -3\n")
    settings_page.run()
    assert "cannot be used" in said(settings_page) and not settings_page.exception
    settings_page.button("settings-forget").click().run()
    assert (
        not own_settings_file().exists() and settings_page.number_input("settings-go_rule.margin").value == 20
    )
    assert own_settings_file().with_suffix(".toml.before").exists()


def test_a_backup_is_made_to_download(settings_page, tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(
        st, "download_button", lambda label, content, name, kind, **more: asked.append((name, content))
    )
    settings_page.button("settings-backup").click().run()
    assert not settings_page.exception
    ((name, content),) = asked
    assert name == f"shop-{date.today().isoformat()}.zip"
    with zipfile.ZipFile(io.BytesIO(content)) as held:
        assert {"record.sqlite", "manifest.json"} <= set(held.namelist())
    assert not list(tmp_path.glob("backup-*"))


def test_a_backup_that_cannot_be_made_says_why(settings_page, monkeypatch):
    def refused(*told, **more):
        raise BackupError("the disk is <b>full</b>")

    monkeypatch.setattr(back_up, "whole_or_not_at_all", refused)
    settings_page.button("settings-backup").click().run()
    assert not settings_page.exception
    assert literal("the disk is <b>full</b>") in said(settings_page)


def test_the_folder_of_the_daily_copy_is_kept_as_it_was_typed(settings_page, tmp_path):
    settings_page.text_input("settings-backup_folder").set_value(f" {tmp_path} ")
    keep(settings_page)
    assert load_settings(own_settings_file()).backup_folder == str(tmp_path)
