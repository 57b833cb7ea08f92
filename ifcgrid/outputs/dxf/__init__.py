"""Drawing exchange files (DXF) of a storey's plan. Needs the extra `drawings`."""

from ifcgrid.outputs.dxf.writer import has_dxf, write_storey_dxf

__all__ = ["has_dxf", "write_storey_dxf"]
