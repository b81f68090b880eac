"""One job at the desk: every act names the version its author last saw."""

from datetime import date

import pytest

from triage.domain.job.records import Intake
from triage.errors import JobRuleError
from triage.workflows.jobs.intake import consider, take
from triage.workflows.jobs.words import job_words
from triage.workflows.jobs.work import check_line

DAY = date(2026, 11, 25)
PORT = """
[device]
name = "black phone from the ferry"
tier = "middle"
model = "K2"
data_wanted = {data}

[ownership]
lock = "{lock}"
identity = "agrees"
proof_recorded = {proof}

[[finding]]
kind = "port-pins-damaged"
severity = 2

[[check]]
check = "six-face-look"
found = true
"""
CLEAR = PORT.format(data="false", lock="clear", proof="true")
SOLD_LINES = ("wipe-proof", "identity-numbers", "cosmetic-grade", "stock-and-tax-record")
PORT_LINES = ("solder-look", "cell-look-again", "hardware-complete", "seal-look", "fast-charge-step")


class AtTheDesk:
    """One job as its author last saw it: every act names that version."""

    def __init__(self, keeper, file):
        self.keeper, self.file = keeper, file

    def do(self, act, *told, **more):
        self.file = act(self.keeper, self.file.id, self.file.version, *told, **more)
        return self.file

    def refused(self, act, *told, **more):
        with pytest.raises(JobRuleError) as problem:
            act(self.keeper, self.file.id, self.file.version, *told, **more)
        with self.keeper.ledger.reading() as reading:
            assert reading.job(self.file.id) == self.file  # nothing was written
        return problem.value.refusals

    def words(self, today=DAY):
        return job_words(self.file, self.keeper.catalogue, today, self.keeper.shop.settings)

    def check(self, *lines, result="pass", **more):
        for line in lines:
            self.do(check_line, line, result, DAY, sealed=True, **more)


def bought(keeper, description=CLEAR, price=4000, **intake):
    told = Intake(DAY, description, battery_looked_at=True, **intake)
    job = AtTheDesk(keeper, consider(keeper, told, "bought"))
    job.do(take, DAY, price)
    return job
