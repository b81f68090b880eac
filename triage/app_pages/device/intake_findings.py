"""What is wrong with a device: damage by one tap each, symptoms, checks already done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import streamlit as st

from triage.app_pages.device.intake_places import by_place, drawing, zone_tapped
from triage.app_pages.device.intake_what_happened import what_happened
from triage.app_pages.shared.literal import literal
from triage.domain.catalogue import Catalogue
from triage.domain.units.suspicion import latest_results
from triage.domain.units.unit import CheckResult, Finding, Unit
from triage.policy.problem.normalise import covered_words, normalise

_SEEN = 20  # twentieths: certain

KeyOf = Callable[[str], str]


def findings_part(unit: Unit, catalogue: Catalogue, key: KeyOf) -> tuple[Finding, ...]:
    """Draw the damage: what happened, kinds by place, a search, then the taps of each one chosen."""
    state, held = st.session_state, {finding.kind: finding for finding in unit.findings}
    state.setdefault(key("kinds"), list(held))
    left, right = st.columns([9, 5]) if catalogue.zones else (st.container(), None)
    with left:
        what_happened(catalogue, key)
        by_place(catalogue, key)
    _search(catalogue, key)
    found = tuple(
        _finding(held.get(slug) or Finding(slug, zone=zone_tapped(slug, key)), catalogue, key)
        for slug in state[key("kinds")]
    )
    for words in covered_words(normalise(replace(unit, findings=found), catalogue), catalogue):
        st.caption(literal(words))
    if right is not None:
        with right:
            drawing(found, catalogue)
    return found


def _search(catalogue: Catalogue, key: KeyOf) -> None:
    """Add one damage at a time: the list closes after each, and no key or row adds them all."""
    state = st.session_state
    order = {family: place for place, family in enumerate(catalogue.families)}
    kinds = sorted(catalogue.kinds.values(), key=lambda kind: order[kind.family])

    def add() -> None:
        if state[key("search")]:
            state[key("kinds")] = [*state[key("kinds")], state[key("search")]]
        state[key("search")] = None

    st.selectbox(
        "Add damage", [kind.slug for kind in kinds if kind.slug not in state[key("kinds")]], None,
        format_func=lambda slug: _kind_words(slug, catalogue), key=key("search"), on_change=add,
        placeholder="Type to search", filter_mode="contains",
    )  # fmt: skip


def symptoms_part(unit: Unit, catalogue: Catalogue, key: KeyOf) -> tuple[str, ...]:
    """Draw the symptoms whose cause is unknown."""
    return tuple(
        st.multiselect(
            "Symptoms (cause unknown)",
            list(catalogue.symptoms),
            list(unit.symptoms),
            format_func=lambda slug: _also(catalogue.symptoms[slug].name, catalogue.symptoms[slug].also),
            key=key("symptoms"),
            placeholder="Choose",
            select_all=False,
            filter_mode="contains",
        )  # fmt: skip
    )


def readings_part(unit: Unit, catalogue: Catalogue, key: KeyOf) -> tuple[CheckResult, ...]:
    """Draw the checks already made, by what they said."""
    checks = catalogue.checks
    held = latest_results(unit)
    found, clear = (
        st.multiselect(
            f"Checks done: {words}", list(checks), [slug for slug in held if held[slug] is said],
            format_func=lambda slug: checks[slug].name, key=key(f"checks-{said}"), placeholder="None",
            select_all=False, filter_mode="contains",
        )
        for said, words in ((True, "fault found"), (False, "clear"))
    )  # fmt: skip
    return tuple(CheckResult(slug, True) for slug in found) + tuple(
        CheckResult(slug, False) for slug in clear if slug not in found
    )


def _finding(finding: Finding, catalogue: Catalogue, key: KeyOf) -> Finding:
    """Severity by one tap, place and certainty of one damage."""
    kind, zones = catalogue.kinds[finding.kind], catalogue.zones
    places = ["", *kind.zones, *(zone for zone in zones if zone not in kind.zones)]
    twentieths = sorted({*range(1, _SEEN + 1), 20 * finding.chance}, reverse=True)
    with st.container(gap="xsmall", key=key(f"{kind.slug}-row")):
        severity = st.pills(
            f"**{literal(kind.name)}** (severity, 3 is the worst)", [1, 2, 3],
            default=finding.severity, required=True,
            key=key(f"{kind.slug}-severity"),
            format_func=lambda level: f"{level}: {kind.severities[level - 1]}",
        )  # fmt: skip
        with st.grid(2, min_column_width=145, gap="xsmall"):
            zone = st.selectbox(
                "Location", places, places.index(finding.zone), key=key(f"{kind.slug}-zone"),
                format_func=lambda slug: zones[slug].name if slug else "not given",
            )  # fmt: skip
            count = st.selectbox(
                "Seen or suspected", twentieths, twentieths.index(20 * finding.chance),
                format_func=_presence_words, key=key(f"{kind.slug}-chance"),
            )  # fmt: skip
        st.button(
            f"Remove {literal(kind.name)}", key=key(f"{kind.slug}-remove"), on_click=_remove,
            args=(kind.slug, key), type="tertiary", icon=":material/close:",
        )  # fmt: skip
    return replace(finding, severity=severity or finding.severity, zone=zone, chance=count / _SEEN)


def _remove(slug: str, key: KeyOf) -> None:
    state = st.session_state
    state[key("kinds")] = [kind for kind in state[key("kinds")] if kind != slug]


def _kind_words(slug: str, catalogue: Catalogue) -> str:
    kind = catalogue.kinds[slug]
    return _also(f"{kind.name} ({catalogue.families[kind.family].name.lower()})", kind.also)


def _also(name: str, words: tuple[str, ...]) -> str:
    """A name with the other words by which it is searched for."""
    return f"{name}; also: {', '.join(words)}" if words else name


def _presence_words(twentieths: float) -> str:
    return "seen" if twentieths >= _SEEN else f"suspected, {twentieths:g} in 20"
