"""The life of a job, every state by every move by both routes, written out by hand.

The table is common practice, no source: what the shop owns it sells or strips,
what an owner owns goes back to them.
"""

import pytest

from tests.domain.job_files import job
from triage.domain.job.life import ENDED, MOVES, OPEN, ROUTES, STATES, after
from triage.domain.job.rules import table_refusals

# state: moves of a bought unit | moves of an owner's unit, each "move>state"; "." is none.
SPECIFICATION = """
considered       | decline>declined take>taken
                 | decline>declined take>taken
declined         | reconsider>considered
                 | reconsider>considered
taken            | start>in-work wait>waiting strip>stripped dispose>disposed
                 | start>in-work wait>waiting dispose>disposed return-unfixed>returned-unfixed leave-uncollected>uncollected
in-work          | wait>waiting verify>verified strip>stripped dispose>disposed
                 | wait>waiting verify>verified dispose>disposed return-unfixed>returned-unfixed
waiting          | resume>in-work strip>stripped dispose>disposed
                 | resume>in-work dispose>disposed return-unfixed>returned-unfixed leave-uncollected>uncollected
verified         | reopen>in-work make-ready>ready strip>stripped dispose>disposed
                 | reopen>in-work make-ready>ready dispose>disposed return-unfixed>returned-unfixed
ready            | reopen>in-work sell>sold strip>stripped dispose>disposed
                 | reopen>in-work return-fixed>returned-fixed return-unfixed>returned-unfixed leave-uncollected>uncollected
sold             | come-back>came-back
                 | come-back>came-back
returned-fixed   | .
                 | come-back>came-back
returned-unfixed | .
                 | come-back>came-back
stripped         | .
                 | .
disposed         | .
                 | .
uncollected      | .
                 | return-fixed>returned-fixed return-unfixed>returned-unfixed sell>sold dispose>disposed
came-back        | rework>in-work take-back>taken send-back>sold
                 | rework>in-work take-back>taken send-back>returned-fixed
"""  # noqa: E501


def read(text):
    table, state = {}, ""
    for line in text.strip().splitlines():
        head, moves = line.split("|")
        route = "bought" if head.strip() else "walk-in"
        state = head.strip() or state
        table[state, route] = dict(move.split(">") for move in moves.split() if move != ".")
    return table


TABLE = read(SPECIFICATION)


@pytest.mark.parametrize("route", ROUTES)
@pytest.mark.parametrize("state", STATES)
def test_a_state_allows_exactly_the_moves_of_its_row(state, route):
    row = TABLE[state, route]
    for move in MOVES:
        assert after(state, move, route) == row.get(move), move
        assert (table_refusals(job(route, state), move) == ()) == (move in row), move


def test_every_move_of_the_specification_is_known():
    assert {move for row in TABLE.values() for move in row} == set(MOVES)
    assert {state for state, _ in TABLE} == set(STATES)


def test_open_and_ended_states_do_not_overlap():
    assert not set(OPEN) & set(ENDED)
    # A bought unit in an ended state other than sold goes nowhere any more.
    assert all(not TABLE[state, "bought"] for state in ENDED if state != "sold")


def test_what_cannot_be_done_says_what_can():
    (said,) = table_refusals(job("bought", "ready"), "return-fixed")
    assert said == (
        '"Return repaired" is not possible while the job is ready for sale or collection; '
        "possible now: reopen job, record sale, strip for parts, record disposal"
    )
    assert "nothing" in table_refusals(job("bought", "stripped"), "sell")[0]
