"""The decision on a device: taken, declined or quoted, with the answer behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import streamlit as st

from triage.app_pages.shared.at_the_bench import at_the_bench
from triage.app_pages.shared.current_device import address, became, current_job, forget, listed, to_claim
from triage.app_pages.shared.draft import DEMO, Draft
from triage.app_pages.shared.flash import flash, flash_refusals
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.pages import PAGES
from triage.app_pages.shared.shop_record import shop_record
from triage.domain.job.records import BackedUp, Intake
from triage.domain.money import to_minor
from triage.errors import DraftTakenError, LedgerConflictError, TriageError
from triage.policy.answer.assessment import Assessment, Verdict
from triage.workflows.jobs.intake import consider_and_decide
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.shop import Shop

# What somebody must have seen to say this of a battery.
_LOOKED = ("sound", "hazard", "absent")
_BACKED_UP: dict[BackedUp, str] = {"yes": "yes", "no": "no", "not-known": "not known"}


def figures(assessment: Assessment, draft: Draft) -> tuple[Any, ...]:
    """What an answer says, as far as a decision rests on it."""
    return (
        draft, assessment.verdict, assessment.limit, assessment.expected_margin, assessment.losses_in_20,
    )  # fmt: skip


def decide_part(assessment: Assessment, draft: Draft, shop: Shop, shown: tuple[Any, ...] | None) -> None:
    """Draw the decision; once it is made, the way to the job.

    shown : the figures that were on the screen when a button was pressed.
    """
    ledger, _ = shop_record()
    if ledger is None:
        return
    if job := current_job():
        st.page_link(PAGES["job"], label="Open this device's job", icon=":material/work:",
                     query_params={"job": str(job)})  # fmt: skip
        return
    with st.form("device-decide"):
        with st.grid(2, min_column_width=150, gap="xsmall"):
            hand = at_the_bench(ledger)
            paid = None
            if not draft.walk_in:
                paid = st.number_input(
                    f"Price paid ({shop.settings.currency})", 0.0, 1e7, draft.ask, 5.0, "%.2f",
                    key=f"device-paid-{draft.ask}",
                )  # fmt: skip
        backed_up: BackedUp | None = "not-known"
        if assessment.unit.data_wanted:
            backed_up = st.pills(
                "The owner wants the data: is it backed up?", list(_BACKED_UP), default=None,
                format_func=_BACKED_UP.__getitem__, key="device-backed-up",
            )  # fmt: skip
        sure = draft != DEMO or st.checkbox(
            "Save the demo device in my record anyway", key="device-demo-sure"
        )
        # The answer's own way is the heavier button; where it is checked first, neither is.
        yes, no = assessment.verdict in (Verdict.TAKE, Verdict.PARTS), assessment.verdict is Verdict.LEAVE
        with st.container(horizontal=True):
            accept = st.form_submit_button(
                "Open a job and quote" if draft.walk_in else "Buy it",
                type="primary" if yes else "secondary", key="device-take",
            )  # fmt: skip
            leave = st.form_submit_button(
                "Decline it", type="primary" if no else "secondary", key="device-leave"
            )
    if (accept or leave) and shown != figures(assessment, draft):
        st.warning(
            "The device or its data changed after the answer that you saw. The page now shows the new "
            "answer. Decide again.",
            icon=":material/update:",
        )
    elif (accept or leave) and draft == DEMO and not sure:
        st.error(
            "This is the invented demo device. Describe your own, or tick the box to save it in your record."
        )
    elif accept or leave:
        _IntakeForm(RecordKeeper(ledger, shop, hand), assessment, draft, backed_up or "not-known").close(
            paid, leave
        )


@dataclass(frozen=True)
class _IntakeForm:
    """A device at the counter: its answer becomes a job's decision."""

    keeper: RecordKeeper
    assessment: Assessment
    draft: Draft
    backed_up: BackedUp

    def close(self, paid: float | None, leave: bool) -> None:
        """Open the job with its decision, taken or declined; an owner is asked with a quote first."""
        ask_owner = self.draft.walk_in and not leave
        try:
            file, refused = consider_and_decide(
                self.keeper,
                self._intake(),
                "walk-in" if self.draft.walk_in else "bought",
                self.assessment,
                "decline" if leave else "ask-owner" if ask_owner else "take",
                None if paid is None else to_minor(paid, self.keeper.shop.settings.currency),
                to_claim(),
            )
        except DraftTakenError as taken:
            became(taken.job)
            flash(
                "warning",
                "This device is already a job, from another tab or an earlier press. This is its job page.",
            )
            st.switch_page(PAGES["job"], query_params={"job": str(taken.job)})
        except LedgerConflictError:
            forget()  # the address brings what the record holds
            st.rerun()
        except TriageError as refusal:
            st.error(listed(refusal))
            return
        became(file.id)
        if ask_owner:
            st.switch_page(PAGES["quote"], query_params=address())
        if refused:
            flash_refusals(refused, f"{literal(file.label)} is saved, but not accepted yet:")
        st.switch_page(PAGES["job"], query_params={"job": str(file.id)})

    def _intake(self) -> Intake:
        unit, shop = self.assessment.unit, self.keeper.shop
        ask = None if self.draft.ask is None else to_minor(self.draft.ask, shop.settings.currency)
        return Intake(
            on=shop.today, description=self.draft.toml, ask_minor=ask, technician=self.keeper.by,
            backed_up=self.backed_up, battery_looked_at=unit.battery in _LOOKED,
        )  # fmt: skip
