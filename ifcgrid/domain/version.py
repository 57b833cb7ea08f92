"""The library's version, in the one place that everything may import."""

from __future__ import annotations

__all__ = ["__version__"]

__version__ = "0.1.0"
