"""What the commands share: progress on a terminal, text or JSON out, the exit code."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Self

__all__ = ["Progress", "check_json", "emit", "exit_code"]

BAR_WIDTH = 30


class Progress:
    """A bar on stderr when that is a terminal; silent otherwise."""

    def __init__(self) -> None:
        self._on = sys.stderr.isatty()
        self._drawn = False

    def __call__(self, name: str, done: int, total: int) -> None:
        """Draw the bar at `done` of `total`, with the room's name beside it."""
        if not self._on:
            return
        filled = BAR_WIDTH * done // max(total, 1)
        label = "".join(c for c in name if c.isprintable())[:24]
        bar = "#" * filled + "." * (BAR_WIDTH - filled)
        sys.stderr.write(f"\r[{bar}] {done}/{total} {label:<24}")
        sys.stderr.flush()
        self._drawn = True

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        """Wipe the bar, so that what follows starts on a clean line."""
        if self._drawn:
            sys.stderr.write("\r" + " " * (BAR_WIDTH + 44) + "\r")
            sys.stderr.flush()


def emit(record: dict[str, Any], target: str | None, text: str) -> None:
    """JSON to a file or to `-`, and the text for people unless JSON took its place."""
    from ifcgrid.pipeline import write_text

    if target == "-":
        # A terminal of few letters would lose names; JSON has its own way to spell them.
        is_plain = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
        print(json.dumps(record, indent=2, ensure_ascii=is_plain, allow_nan=False))
        return
    if target:
        write_text(Path(target), json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
    print(text)


def check_json(
    args: argparse.Namespace, *, writes: Sequence[str | None], reads: Sequence[str | None]
) -> None:
    """Whether the JSON can be written beside all else, before the long work."""
    from ifcgrid.pipeline import check_targets

    if args.json not in (None, "-"):
        check_targets([args.json], inputs=reads)
        check_targets([*writes, args.json])


def exit_code(record: dict[str, Any]) -> int:
    """1 when a finding fails that nobody waived, else 0."""
    findings = record.get("findings", [])
    return int(any(f["verdict"] == "fail" and not f.get("waiver") for f in findings))
