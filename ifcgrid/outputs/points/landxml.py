"""Points as LandXML 1.2: Units, CoordinateSystem, Project, Application and CgPoints.

The text of a CgPoint is northing, easting, elevation (LandXML 1.2 schema, CgPoint). Units
are always written, for the schema's defaults of elevation are metres.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET

from ifcgrid.domain.coordinates import PointUnit
from ifcgrid.domain.points import PointRole
from ifcgrid.domain.version import __version__
from ifcgrid.outputs.points.statement import PointFile, check_lines, statement_lines

__all__ = ["NAMESPACE", "format_landxml"]

NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"
_INSTANCE = "http://www.w3.org/2001/XMLSchema-instance"

_METRIC = {
    "areaUnit": "squareMeter",
    "volumeUnit": "cubicMeter",
    "temperatureUnit": "celsius",
    "pressureUnit": "HPA",
    "angularUnit": "decimal degrees",
    "directionUnit": "decimal degrees",
    "elevationUnit": "meter",
}
_IMPERIAL = {
    "areaUnit": "squareFoot",
    "volumeUnit": "cubicFeet",
    "temperatureUnit": "fahrenheit",
    "pressureUnit": "inchHG",
    "angularUnit": "decimal degrees",
    "directionUnit": "decimal degrees",
    "elevationUnit": "feet",
}
_UNITS = {
    PointUnit.MM: ("Metric", "millimeter", _METRIC),
    PointUnit.METRE: ("Metric", "meter", _METRIC),
    PointUnit.FOOT: ("Imperial", "foot", _IMPERIAL),
    PointUnit.US_SURVEY_FOOT: ("Imperial", "USSurveyFoot", _IMPERIAL),
}
_SURVEY = {PointRole.CHECK: "control"}


def _clean(text: str) -> str:
    """Text without the characters that XML 1.0 does not hold."""
    return "".join(c if c.isprintable() else " " for c in text)


def format_landxml(file: PointFile, *, date: str, time: str) -> str:
    """The document. The schema wants to know when it was written: `date` 2031-03-04, `time` 09:30:00."""
    ET.register_namespace("", NAMESPACE)
    ET.register_namespace("xsi", _INSTANCE)
    root = ET.Element(
        f"{{{NAMESPACE}}}LandXML",
        {
            f"{{{_INSTANCE}}}schemaLocation": f"{NAMESPACE} {NAMESPACE}/LandXML-1.2.xsd",
            "date": date,
            "time": time,
            "version": "1.2",
            "language": "English",
            "readOnly": "false",
        },
    )

    def add(parent: ET.Element, name: str, values: dict[str, str]) -> ET.Element:
        return ET.SubElement(parent, f"{{{NAMESPACE}}}{name}", {k: _clean(v) for k, v in values.items() if v})

    kind, linear, others = _UNITS[file.unit]
    add(add(root, "Units", {}), kind, {"linearUnit": linear, **others})
    system = file.coordinates
    add(
        root,
        "CoordinateSystem",
        {
            "name": system.name,
            "desc": "; ".join(statement_lines(file)),
            "epsgCode": system.epsg,
            "horizontalDatum": system.datum,
            "rotationAngle": f"{system.turn_deg:.9g}",
        },
    )
    add(root, "Project", {"name": file.project or "ceilings", "desc": "; ".join(_stamp(file))})
    add(
        root,
        "Application",
        {"name": "ifcgrid", "version": __version__, "desc": "Set-out points of suspended ceilings"},
    )
    for line in check_lines(file):
        root.append(ET.Comment(f" {_clean(line).replace('--', '- ')} "))
    points = add(root, "CgPoints", {"name": "ceiling set-out"})
    for point, place in zip(file.points, file.site.tolist(), strict=True):
        made = add(
            points,
            "CgPoint",
            {
                "name": point.name,
                "desc": point.note,
                "code": point.role.value,
                "pntSurv": _SURVEY.get(point.role, ""),
                "role": "to stake out",
            },
        )
        made.text = " ".join(map(file.number, place))
    ET.indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ET.tostring(root, encoding="unicode")}\n'


def _stamp(file: PointFile) -> list[str]:
    return [f"{name}: {text}" for name, text in file.stamp.items()]
