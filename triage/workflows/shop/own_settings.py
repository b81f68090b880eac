"""A shop's own settings, kept beside its record; until there are any, the demo's stand."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import tomlkit

from triage.domain.documents import build, parse_toml
from triage.domain.shop.settings import Settings
from triage.errors import SettingsError
from triage.shipped import shipped
from triage.workflows.shop.beside_record import beside_record, replace_file
from triage.workflows.shop.shop import DEMO_SETTINGS
from triage.workflows.shop.shop_files import ShopFiles


@dataclass(frozen=True)
class ChangedSetting:
    """One setting that was changed; `before` is None where it was not said."""

    place: str
    before: Any
    after: Any


def own_settings_file(where: str | None = None) -> Path:
    """The file beside the record (`where`, else the default one), whether it is there or not."""
    return beside_record("-settings.toml", where)


def with_own_settings(files: ShopFiles, where: str | None = None) -> ShopFiles:
    """The same files, with the shop's own settings in place of the demo's; a named file stands."""
    own = own_settings_file(where)
    return replace(files, settings=own) if files.settings is None and own.exists() else files


def settings_values(settings: Settings) -> dict[str, Any]:
    """Every value of the settings by its dotted place, such as `go_rule.margin`; absent tables left out."""
    return dict(_values(settings, ""))


def keep_settings(values: Mapping[str, Any], start: Path | None = None) -> tuple[ChangedSetting, ...]:
    """Change some values and keep the whole as the shop's own; what changed.

    The text that is edited is the shop's own, so that comments stay as a person wrote them.
    It is checked as it would be read before it takes its place, and takes it in one step.

    Parameters
    ----------
    values : by dotted place. start : settings to begin from where there are no own ones.

    Raises
    ------
    SettingsError : a value that cannot stand, all of them at once; nothing is written then.
    """
    own = own_settings_file()
    from_demo = start is None and not own.exists()
    source = own if own.exists() else start or shipped(DEMO_SETTINGS)
    text = tomlkit.parse(source.read_text(encoding="utf-8"))
    held = settings_values(build(Settings, parse_toml(tomlkit.dumps(text), str(source), SettingsError),
                                 SettingsError))  # fmt: skip
    changed = []
    for place, value in values.items():
        if held.get(place) != value:
            _put(text, place.split("."), value)
            changed.append(ChangedSetting(place, held.get(place), value))
    if from_demo:
        text["note"] = "The shop's own settings, started from the demo settings."
    written = tomlkit.dumps(text)
    build(Settings, parse_toml(written, "the settings", SettingsError), SettingsError)
    replace_file(own, written)
    return tuple(changed)


def forget_own_settings() -> None:
    """Take the shop's own settings away; a copy stays beside them."""
    own = own_settings_file()
    if own.exists():
        os.replace(own, own.with_suffix(".toml.before"))


def _values(entry: Any, at: str) -> Iterator[tuple[str, Any]]:
    for item in fields(entry):
        value = getattr(entry, item.name)
        if is_dataclass(value):
            yield from _values(value, f"{at}{item.name}.")
        elif value is not None:
            yield at + item.name, value


def _put(table: Any, place: list[str], value: Any) -> None:
    for name in place[:-1]:
        if name not in table:
            table[name] = tomlkit.table()
        table = table[name]
    table[place[-1]] = value
