"""When a long campaign ran, and of which commit: the first line of what it records."""

from __future__ import annotations

import subprocess
from datetime import UTC, datetime
from pathlib import Path


def stamp() -> str:
    """Such as "2026-11-25 19:02 UTC, commit 5ebf329"; the commit is that of this moment, so ask before a long run."""
    command = ["git", "rev-parse", "--short", "HEAD"]
    commit = subprocess.run(command, capture_output=True, text=True, cwd=Path(__file__).parent).stdout.strip()
    return f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC, commit {commit or 'unknown'}"
