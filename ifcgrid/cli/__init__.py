"""The command line: arguments, one pipeline function each, text or JSON, an exit code.

Exit codes: 0 done; 1 done, and at least one finding fails; 2 could not run (the reason is
one line on stderr).
"""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence

from ifcgrid.cli.arguments import make_parser
from ifcgrid.domain.errors import IfcGridError

__all__ = ["main"]


def _bear_any_name() -> None:
    """Letters that a terminal cannot show become ?, instead of an error after all the work."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit code."""
    _bear_any_name()
    args = make_parser().parse_args(argv)
    try:
        return int(args.run(args))
    except IfcGridError as error:
        print(f"ifcgrid: {error}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output went away; nothing is left to tell it
        return 2
    except KeyboardInterrupt:
        print("ifcgrid: stopped", file=sys.stderr)
        return 2
