"""`python -m ifcgrid` is the command line."""

from __future__ import annotations

import sys

from ifcgrid.cli import main

sys.exit(main())
