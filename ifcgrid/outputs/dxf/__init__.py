"""Drawing exchange files (DXF) of a storey's plan. Needs the extra `drawings`."""

from ifcgrid.outputs.dxf.document import check_dxf
from ifcgrid.outputs.dxf.writer import write_storey_dxf

__all__ = ["check_dxf", "write_storey_dxf"]
