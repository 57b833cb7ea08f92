"""What the plenum study says of a ceiling, as properties beside its provenance."""

from __future__ import annotations

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.ifc.writing.context import WriteContext
from ifcgrid.ifc.writing.rows import Typed

__all__ = ["plenum_values"]


def plenum_values(ceiling: Ceiling, context: WriteContext) -> dict[str, Typed]:
    """The properties by name; none where the study was not made.

    `PlenumHighest` is the greatest height of the ceiling's underside above the room's floor
    that clears what the models hold above it, by the clearance `PlenumClearance` of the rule
    `PlenumRule`; `PlenumNext` the same without what governs.
    """
    plenum = ceiling.plenum
    if plenum is None:
        return {}
    if plenum.governing is None or plenum.highest is None:
        return {"PlenumNote": Typed("IfcText", "the models hold nothing above this ceiling")}
    keeper, after = plenum.governing, plenum.without(1)
    note = "by arithmetic of the bodies over the room; fire, sound and hangers were not looked at"
    if not plenum.is_known:
        note += "; over part of it the models hold no structure"
    values = {
        "PlenumHighest": Typed("IfcLengthMeasure", context.length(plenum.highest - plenum.floor)),
        "PlenumGovernedBy": Typed("IfcText", f"{keeper.words} ({keeper.key})"),
        "PlenumRule": Typed("IfcText", f"{keeper.rule}: {keeper.source}"),
        "PlenumClearance": Typed("IfcLengthMeasure", context.length(keeper.need)),
    }
    if after is not None:
        values["PlenumNext"] = Typed("IfcLengthMeasure", context.length(after - plenum.floor))
    return values | {"PlenumNote": Typed("IfcText", note)}
