"""Every answer of the shipped devices, lot and quotes: amounts, chances, minutes, steps by kind.

`python -m tests.gold.shipped_answers` rewrites the file. Change it only in separate commits
that say why each amount changed; the shop behind the amounts is invented.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import sys
from pathlib import Path

from triage.cli.main import run
from triage.shipped import shipped

HERE = Path(__file__).parent
FILE = HERE / "shipped-answers.json"
AS_OF = ("--as-of", "2026-11-25")
DEVICES = ("dropped-console", "harbour-tablet", "rain-handset")
LOT_ROWS = 60
NOT_AMOUNTS = ("schema", "cautions", "name", "number", "invented")
ASSESSED = ((), ("--ask", "0"), ("--ask", "40"), ("--ask", "85"), ("--ask", "200"), ("--walk-in",))
QUOTED = ("fixed", "diagnostic-fee", "staged")
KNOWN = ("--chips", "yes", "--touch", "works", "--code", "yes")
SAVED = (KNOWN, (*KNOWN, "--fee", "40"), (), ("--fee", "60"))
CHOSEN = (
    ("--cash", "2000", "--hours", "40", "--whole"),
    ("--cash", "600", "--hours", "12", "--worst", "--most", "top=2"),
)


def device_commands() -> list[tuple[str, ...]]:
    """Command lines about one device each, by name."""
    return [
        *(("assess", name, *more) for name in DEVICES for more in ASSESSED),
        *(("quote", name, "--kind", kind) for name in DEVICES for kind in QUOTED),
        *(("quote-data", name, *more) for name in DEVICES for more in SAVED),
    ]


def device_answer(command: tuple[str, ...]) -> object:
    """What a command of `device_commands` answers."""
    name, device, *more = command
    return answered(name, str(shipped(f"synthetic_cases/devices/{device}.toml")), *more)


def answered(*arguments: str) -> object:
    """The JSON of a command, without text; of a refusal, its exit code."""
    out = io.StringIO()
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
            run([*arguments, *AS_OF, "--json"])
    except SystemExit as stop:
        if stop.code:
            return {"exit": stop.code}
    return without_text(json.loads(out.getvalue()))


def without_text(value: object) -> object:
    """Numbers to a hundredth of a cent, slugs and verdicts; other text is for people, and may be reworded."""
    if isinstance(value, dict):
        kept = {key: without_text(item) for key, item in value.items() if key not in NOT_AMOUNTS}
        cautions = [caution["slug"] for caution in value.get("cautions", ())]
        kept |= {"cautions": cautions} if cautions else {}
        return {key: item for key, item in kept.items() if item is not None and item != []}
    if isinstance(value, list):
        return [item for item in map(without_text, value) if item is not None]
    if isinstance(value, float):
        return round(value, 4)
    if isinstance(value, str):
        return value if re.fullmatch(r"[\w.-]+|take it|check first|take for parts|leave it", value) else None
    return value


def part_of_lot(folder: Path) -> Path:
    """The first rows of the shipped lot, as a file."""
    lines = shipped("synthetic_cases/lot.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    path = folder / "lot.csv"
    path.write_text("".join(lines[: LOT_ROWS + 1]), encoding="utf-8")
    return path


def write(folder: Path) -> None:
    """Write every answer to the file, one line each."""
    lot = str(shipped("synthetic_cases/lot.csv"))
    answers = {" ".join(command): device_answer(command) for command in device_commands()}
    answers["lot"] = answered("lot", str(part_of_lot(folder)))
    answers["whole lot"] = answered("lot", lot)
    answers |= {" ".join(("choose", *limits)): answered("choose", lot, *limits) for limits in CHOSEN}
    lines = (f"{json.dumps(name)}: {json.dumps(answer)}" for name, answer in answers.items())
    FILE.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


if __name__ == "__main__":
    import os
    import tempfile

    with tempfile.TemporaryDirectory() as empty:
        os.environ["TRIAGE_RECORD"] = f"{empty}/record.sqlite"
        write(Path(empty))
    sys.stderr.write(f"{FILE}\n")
