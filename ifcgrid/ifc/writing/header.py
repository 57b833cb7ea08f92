"""What the header of a written model says: who wrote it, when, and out of whose data.

The policy is buildingSMART's (IFC4.x-IF, docs/IFC-file-header): `originating_system` is the
program that made the file, as `Company - Application - Version` without dashes within the
names and with a version by PEP 440; `preprocessor_version` is free. So we name ourselves as
the originating system, and the one that stood there is kept behind the preprocessor's
version. File name, author, organization, authorization and view definition stay as they
were, and so do the model's IfcApplication and owner histories.
"""

from __future__ import annotations

import ifcopenshell

from ifcgrid.domain.version import __version__
from ifcgrid.ifc.writing.step_text import StepText
from ifcgrid.ifc.writing.step_values import format_string

__all__ = ["AUTHORED", "SYSTEM", "sign_model", "signed_header"]

_OURS = "ifcgrid - ifcgrid - "
SYSTEM = f"{_OURS}{__version__}"
"""How we call ourselves."""

AUTHORED = "authored with: "
"""What stands before the name of the program that the model came from."""

_TIME, _PREPROCESSOR, _SYSTEM = 1, 4, 5
"""Places of the values that change in FILE_NAME."""


def _joined(preprocessor: str, system: str) -> str:
    """The preprocessor's version with the program that the model came from."""
    if not system or system.startswith(_OURS):
        return preprocessor
    return "; ".join(filter(None, (preprocessor, AUTHORED + system)))


def sign_model(file: ifcopenshell.file) -> None:
    """Names us in the header of an open model; doing so again changes nothing."""
    name = file.header.file_name
    name.preprocessor_version = _joined(name.preprocessor_version or "", name.originating_system or "")
    name.originating_system = SYSTEM


def signed_header(text: StepText, timestamp: str) -> list[tuple[tuple[int, int], bytes]]:
    """The same in the text of a file, with the time: what is to stand at which place instead.

    Texts of the header are taken over as they stand, whatever their encoding.

    Raises:
        OddTextError: the header is not as it should be.
    """
    spans = text.file_name
    preprocessor, system = (_inner(text, spans[place]) for place in (_PREPROCESSOR, _SYSTEM))
    joined = _joined(preprocessor, system)
    return [
        (spans[_TIME], format_string(timestamp).encode("ascii")),
        (spans[_PREPROCESSOR], b"'" + joined.encode("latin-1") + b"'"),
        (spans[_SYSTEM], format_string(SYSTEM).encode("ascii")),
    ]


def _inner(text: StepText, span: tuple[int, int]) -> str:
    """What stands between the apostrophes of a value, byte for byte; "" for none."""
    value = text.content[slice(*span)].strip().decode("latin-1")
    return value[1:-1] if value.startswith("'") and value.endswith("'") and len(value) > 1 else ""
