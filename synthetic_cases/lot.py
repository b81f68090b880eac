"""Write an invented lot of wrecks: `python -m synthetic_cases.lot`.

The wrecks come from simulated past jobs of the invented shop that the shipped
models never saw, at about the prices that shop paid.
"""

from __future__ import annotations

import argparse
import csv
import io
import os
import sys
from pathlib import Path

import numpy as np

from synthetic_cases.past import play_past
from synthetic_cases.truth import Truth, load_truth

SHIPPED = Path(__file__).parent / "lot.csv"
COLUMNS = (
    "unit", "tier", "cause", "battery", "lock", "identity", "ask", "working_price", "findings",
)  # fmt: skip
UNITS, SEED = 240, 2027
# What a warehouse does not know about a few of its wrecks.
SHARES = {
    "lock": {"clear": 0.94, "cannot-tell": 0.04, "locked-to-another": 0.02},
    "identity": {"agrees": 0.9, "not-checked": 0.09, "mismatch": 0.01},
    "battery": {"not-seen": 0.96, "suspect": 0.04},
}
# Share of visible damage that a warehouse only suspects, and the chance it states.
SUSPECTED, SURE = 0.06, ("8 in 20", "12 in 20", "16 in 20")


def invented_lot(truth: Truth, units: int, seed: int, findings: int | None = None) -> list[dict[str, str]]:
    """Rows of a lot, one per unit, as text by column.

    Parameters
    ----------
    findings : only wrecks with this many findings seen; all when None.
    """
    rng = np.random.default_rng([seed, 1])
    rows: list[dict[str, str]] = []
    part = 0
    while len(rows) < units:
        past = play_past(truth, seed + 1000 * part, 2 * units + 50)
        part += 1
        for row in np.flatnonzero(~past.intake.walk_in):
            person = past.units[row]
            seen = {d.kind: d for d in past.damage[row] if d.origin == "intake"}
            entries = [
                f"{d.kind}/{d.severity}" + (f"/{rng.choice(SURE)}" if rng.random() < SUSPECTED else "")
                for d in seen.values()
            ]
            told = {
                name: str(rng.choice(list(shares), p=list(shares.values())))
                for name, shares in SHARES.items()
            }
            if findings is not None and len(entries) != findings:
                continue
            rows.append(
                {
                    "unit": f"W-{len(rows) + 1:05d}",
                    "tier": person.tier,
                    "cause": person.cause,
                    **told,
                    "ask": f"{float(past.sales.paid[row]):.2f}",
                    "working_price": f"{float(person.working_price):.2f}",
                    "findings": ";".join(entries),
                }
            )
    return rows[:units]


def lot_text(rows: list[dict[str, str]]) -> str:
    """The rows as CSV text."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; the exit status is 0, or 2 for arguments that cannot be used."""
    parser = argparse.ArgumentParser(prog="python -m synthetic_cases.lot", description=__doc__)
    parser.add_argument("--units", type=int, default=UNITS)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--findings", type=int, help="only wrecks with this many findings")
    parser.add_argument("--out", type=Path, default=SHIPPED, help="CSV file to write")
    options = parser.parse_args(arguments)
    for name, least in (("units", 1), ("seed", 0), ("findings", 1)):
        given = getattr(options, name)
        if given is not None and given < least:
            parser.error(f"--{name}: {given} is not accepted; allowed: {least} or more")
    rows = invented_lot(load_truth(), options.units, options.seed, options.findings)
    temporary = options.out.with_name(options.out.name + ".tmp")
    temporary.write_text(lot_text(rows), encoding="utf-8")
    os.replace(temporary, options.out)
    sys.stderr.write(f"{options.out}: {len(rows)} units\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
