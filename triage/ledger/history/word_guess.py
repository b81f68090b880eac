"""Words that other shops' spreadsheets use for the columns and values of the plain history format.

Common practice, no source: everyday English of repair shops. A shop's own words are
matched once on the import page and remembered.
"""

from __future__ import annotations

import re
from difflib import SequenceMatcher

from triage.domain.catalogue import Catalogue

# Titles of columns, as `plain` writes them.
COLUMN_WORDS: dict[str, tuple[str, ...]] = {
    "job": ("job no", "job number", "job id", "order", "order no", "order number", "ticket", "ticket no",
            "repair no", "repair id", "id", "no", "number", "ref", "reference"),
    "date": ("date in", "received", "date received", "intake", "intake date", "booked in", "check in",
             "opened", "created", "day", "repair date"),
    "finding": ("fault", "faults", "problem", "issue", "defect", "damage", "repair", "repair type", "symptom",
                "what was wrong", "complaint", "fault found"),
    "outcome": ("result", "status", "repair status", "success", "successful", "repaired", "was it fixed"),
    "severity": ("grade", "how bad", "damage grade"),
    "minutes": ("time", "time spent", "bench time", "bench minutes", "labour minutes", "mins", "min",
                "minutes spent", "duration"),
    "parts_cost": ("parts", "part cost", "cost of parts", "spares", "materials", "parts spent"),
    "book_cost": ("estimated parts", "parts estimate"),
    "shelf_cost": ("own parts", "stock parts"),
    "why_not": ("reason", "why not", "reason not attempted"),
    "method": ("repair method", "how"),
    "known_at": ("found at", "found during"),
    "zone": ("location", "place", "where"),
    "route": ("type of job", "job type", "bought or walk in", "source"),
    "tier": ("price class", "class", "category", "device class"),
    "cause": ("cause of damage", "what happened"),
    "technician": ("tech", "engineer", "repairer", "repaired by", "worker", "done by", "staff", "fixer"),
    "paid": ("bought for", "purchase price", "cost", "buy price", "price paid", "bought at"),
    "sold": ("sold for", "sale price", "price", "charged", "invoice", "total", "amount", "revenue",
             "customer paid", "sell price"),
    "sold_date": ("date sold", "date out", "collected", "handed over", "date collected"),
    "closed": ("date closed", "finished", "completed", "date completed", "done on", "end date", "date done"),
    "hidden_faults": ("hidden faults", "found inside", "also found"),
    "comeback_date": ("date returned", "came back", "returned on", "warranty date"),
    "comeback_kind": ("comeback reason", "warranty reason"),
    "warranty_days": ("warranty", "guarantee days", "guarantee"),
    "working_price": ("resale value", "value working", "working value"),
    "ending": ("how it ended", "what became of it", "final status"),
    "parts_value": ("parts value", "value in parts", "scrap value"),
}  # fmt: skip
_WORDS: dict[str, dict[str, tuple[str, ...]]] = {
    "outcome": {
        "fixed": ("fixed", "repaired", "yes", "y", "ok", "okay", "done", "success", "successful", "true",
                  "1", "working", "completed", "complete", "pass", "passed", "mended", "solved"),
        "not-fixed": ("not fixed", "not repaired", "no", "n", "failed", "fail", "failure", "unsuccessful",
                      "false", "0", "ber", "beyond repair", "beyond economical repair", "unrepairable",
                      "end of life", "unfixed", "dead", "no fix"),
        "not-attempted": ("not attempted", "declined", "cancelled", "canceled", "refused", "skipped",
                          "not started", "customer declined", "quote declined", "rejected"),
    },
    "severity": {"1": ("minor", "light", "low", "small", "mild"),
                 "2": ("medium", "moderate", "middle", "normal"),
                 "3": ("severe", "major", "high", "heavy", "bad")},
    "route": {"walk-in": ("walk in", "customer", "owner", "client", "repair", "private"),
              "bought": ("bought", "purchase", "purchased", "buy", "own", "stock", "trade in", "lot")},
    "ending": {
        "sold": ("sold", "resold", "sale"),
        "returned-fixed": ("returned fixed", "collected", "handed over", "picked up", "returned"),
        "returned-unfixed": ("returned unfixed", "returned not fixed", "collected unrepaired", "given back"),
        "stripped": ("stripped", "parted", "for parts", "used for parts", "parts"),
        "disposed": ("disposed", "scrapped", "recycled", "binned", "thrown away", "scrap", "e waste"),
    },
    "why_not": {
        "job-stopped": ("job stopped", "stopped", "cancelled"),
        "looked-hopeless": ("hopeless", "not worth it", "beyond repair", "ber"),
        "owner-said-no": ("owner said no", "customer declined", "declined", "refused", "customer refused"),
        "no-part": ("no part", "no parts", "part not available", "out of stock"),
        "too-dear": ("too dear", "too expensive", "cost", "price", "uneconomical"),
    },
    "known_at": {"intake": ("intake", "reception", "counter", "on arrival"),
                 "opening": ("opening", "inside", "when opened", "disassembly"),
                 "test": ("test", "final test", "testing", "final check")},
    "comeback_kind": {
        "same-fault": ("same fault", "same problem", "again", "repeat"),
        "our-damage": ("our damage", "damaged by us", "workmanship"),
        "dead-part": ("dead part", "faulty part", "bad part", "part failed"),
        "new-damage": ("new damage", "dropped again", "customer damage"),
        "no-fault-found": ("no fault found", "nff", "nothing found"),
    },
    "hidden_faults": {"none": ("none", "nothing", "no", "0", "clear")},
}  # fmt: skip
_NO_WORDS = ("the", "a", "of", "and", "or", "is", "to", "on", "in", "not", "with", "does", "no", "it")
_CLOSE = 0.75


def plain(text: str) -> str:
    """Letters and digits in small letters, one blank between words; what stands in brackets is left out."""
    return " ".join(re.findall(r"[^\W_]+", re.sub(r"\(.*?\)", " ", text).casefold()))


def like_word(column: str, text: str) -> str:
    """Our word for theirs in a column of a closed list; "" where nothing is alike."""
    said = plain(text)
    for ours, words in _WORDS.get(column, {}).items():
        if said == plain(ours) or said in words:
            return ours
    return ""


def like_kind(text: str, catalogue: Catalogue) -> str:
    """The damage that a shop's own words most likely mean; "" where none is much alike, or two are."""
    said = plain(text)
    scores = sorted(
        ((max(_alike(said, plain(name)) for name in (kind.name, kind.slug, *kind.also)), kind.slug)
         for kind in catalogue.kinds.values()),
        reverse=True,
    )  # fmt: skip
    best, second = scores[0], scores[1] if len(scores) > 1 else (0.0, "")
    return best[1] if best[0] >= _CLOSE and best[0] > second[0] else like_word("hidden_faults", text)


def _alike(said: str, name: str) -> float:
    """1 for the same words in any order, less the more of them differ; a slip of spelling costs little."""
    left, right = (_stems(words) for words in (said, name))
    if not left or not right:
        return 0.0
    met = sum(max(SequenceMatcher(None, word, other).ratio() for other in right) >= 0.8 for word in left)
    return met / max(len(left), len(right))


def _stems(text: str) -> list[str]:
    return [word.removesuffix("s") for word in text.split() if word not in _NO_WORDS]
