"""The job that a page shows: the acts on it, its money, and keys of the widgets about it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

import streamlit as st

from triage.app_pages.shared.flash import flash
from triage.app_pages.shared.literal import literal
from triage.domain.job.file import JobFile
from triage.domain.money import from_minor, money_text, to_minor
from triage.errors import JobRuleError, LedgerConflictError, TriageError
from triage.workflows.jobs.record_keeper import RecordKeeper
from triage.workflows.shop.shop import Shop

_CHANGED_MEANWHILE = (
    "Somebody else, or an earlier press, changed this job in the meantime. Your change was not saved. "
    "The page now shows the current job. Check it, then try again."
)


@dataclass(frozen=True)
class JobInHand:
    """A job as it stands, and who acts on it.

    seen : version that was on the page when the person acted; an act on a job
        that somebody changed since is refused.
    """

    keeper: RecordKeeper
    file: JobFile
    seen: int

    @property
    def shop(self) -> Shop:
        """The shop whose job it is."""
        return self.keeper.shop

    @property
    def today(self) -> date:
        """The shop's day."""
        return self.keeper.shop.today

    def key(self, name: str) -> str:
        """Key of one widget; an act that was done starts its form anew."""
        return f"job-{self.file.id}-{st.session_state.get('job-turn', 0)}-{name}"

    def money(self, minor: int | None) -> str:
        """An amount of the job's currency, as text for markdown."""
        if minor is None:
            return "not known"
        return literal(money_text(from_minor(minor, self.file.currency), self.file.currency))

    def major(self, minor: int | None) -> float | None:
        """An amount in major units, as a field shows it."""
        return None if minor is None else from_minor(minor, self.file.currency)

    def minor(self, amount: float | None) -> int:
        """An amount typed in major units."""
        return to_minor(amount or 0.0, self.file.currency)

    def do(self, act: Callable[..., Any], *args: Any, said: str = "Saved.", **named: Any) -> None:
        """Do an act on this job; on refusal the page shows every reason and nothing is saved."""
        try:
            act(self.keeper, self.file.id, self.seen, *args, **named)
        except LedgerConflictError:
            flash("warning", _CHANGED_MEANWHILE)
            _rerun(self.file.id, forms_anew=False)
        except JobRuleError as refusal:
            st.error("Not saved:\n" + "\n".join(f"- {literal(words)}" for words in refusal.refusals))
        except TriageError as refusal:
            st.error(literal(str(refusal)))
        else:
            flash("success", said)
            _rerun(self.file.id, forms_anew=True)


def version_seen(file: JobFile) -> int:
    """Version of a job that this page showed last."""
    return st.session_state.get(f"job-{file.id}-seen", file.version)


def shown(file: JobFile) -> None:
    """Remember that this version is on the page now."""
    st.session_state[f"job-{file.id}-seen"] = file.version


def _rerun(job: int, forms_anew: bool) -> None:
    st.session_state.pop(f"job-{job}-seen", None)
    if forms_anew:
        st.session_state["job-turn"] = st.session_state.get("job-turn", 0) + 1
    st.rerun()
