"""Run README's first command in a copy of the clone, wait for the pages, then ask for one answer.

`python3 .ci/first_command.py FOLDER COMMAND`; needs only the standard library.
"""

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

SECONDS = 600


def served(folder: Path, command: str) -> str:
    """Address at which the command serves the pages."""
    log, end = folder / "served.log", time.monotonic() + SECONDS
    with log.open("w") as out:
        process = subprocess.Popen(
            command, shell=True, cwd=folder, stdout=out, stderr=out, start_new_session=True
        )
    try:
        while time.monotonic() < end and process.poll() is None:
            found = re.search(r"Serving (http://\S+)", log.read_text())
            if found and answers(f"{found[1]}/_stcore/health"):
                return found[1]
            time.sleep(1)
        raise SystemExit(f"no page is served:\n{log.read_text()}")
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGTERM)


def answers(address: str) -> bool:
    """Whether a server reports that it is healthy."""
    try:
        with urllib.request.urlopen(address, timeout=5) as answer:
            return answer.read() == b"ok"
    except OSError:
        return False


folder, command = Path(sys.argv[1]), sys.argv[2]
address = served(folder, command)
unit = folder / "synthetic_cases" / "devices" / "harbour-tablet.toml"
asked = [folder / ".venv" / "bin" / "triage", "assess", unit, "--ask", "40", "--json"]
said = json.loads(subprocess.run(asked, capture_output=True, text=True, check=True, cwd="/").stdout)
assert said["limit"] > 0 and said["steps"], said
sys.stderr.write(f"pages at {address}; the tablet at 40: {said['verdict']}, limit {said['limit']}\n")
