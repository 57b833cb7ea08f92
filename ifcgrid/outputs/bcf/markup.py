"""The XML of BCF 2.1 and 3.0: topics, viewpoints, and the lists of words that occur.

Element names and their order follow the schemas of buildingSMART BCF-XML, releases 2.1 and
3.0. What other programs put into a topic is kept.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from xml.etree import ElementTree as Tree

from ifcgrid.domain.cause import NAMESPACE
from ifcgrid.outputs.bcf.topic import Topic

__all__ = [
    "AUTHOR",
    "CLOSED",
    "GONE_WORDS",
    "OPEN",
    "WAIVED",
    "Markup",
    "close_markup",
    "comment_on",
    "extensions_xml",
    "keep_markup",
    "new_markup",
    "read_markup",
    "version_xml",
    "viewpoint_xml",
]

AUTHOR = "ifcgrid"
OPEN, CLOSED, WAIVED = "Open", "Closed", "Waived"
TOPIC_TYPE = "Clash"

GONE_WORDS = "No longer found"
"""Our comment on a topic whose cause is gone begins so."""

_TOPIC_ORDER = (
    "ReferenceLink",
    "ReferenceLinks",
    "Title",
    "Priority",
    "Index",
    "Labels",
    "CreationDate",
    "CreationAuthor",
    "ModifiedDate",
    "ModifiedAuthor",
    "DueDate",
    "AssignedTo",
    "Stage",
    "Description",
    "BimSnippet",
    "DocumentReference",
    "DocumentReferences",
    "RelatedTopic",
    "RelatedTopics",
    "Comments",
    "Viewpoints",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Markup:
    """What matters of a topic that is in a file: who made it, how it stands, what it says.

    `modified_by` is who changed it last, `comments` who wrote what, as they stand in the file.
    """

    author: str
    status: str
    description: str
    modified_by: str = ""
    comments: tuple[tuple[str, str], ...] = ()


def _bytes(root: Tree.Element) -> bytes:
    Tree.indent(root)
    text: bytes = Tree.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"


def _add(parent: Tree.Element, name: str, text: str | None = None, **attributes: str) -> Tree.Element:
    child = Tree.SubElement(parent, name, attributes)
    if text is not None:
        child.text = _printable(text)
    return child


def _printable(text: str) -> str:
    """Text without the control characters that XML 1.0 forbids."""
    return "".join(
        c for c in text if c in "\t\n" or " " <= c <= "\ud7ff" or "\ue000" <= c <= "\ufffd" or c > "\uffff"
    )


def _topic(root: Tree.Element) -> Tree.Element:
    topic = root.find("Topic")
    return Tree.SubElement(root, "Topic") if topic is None else topic


def read_markup(data: bytes) -> Markup:
    """What an existing topic says."""
    root = Tree.fromstring(data)
    topic = _topic(root)
    comments = [*root.findall("Comment"), *topic.findall("Comments/Comment")]
    return Markup(
        author=topic.findtext("CreationAuthor", ""),
        status=topic.get("TopicStatus", ""),
        description=topic.findtext("Description", ""),
        modified_by=topic.findtext("ModifiedAuthor", ""),
        comments=tuple((c.findtext("Author", ""), c.findtext("Comment", "")) for c in comments),
    )


def version_xml(version: str) -> bytes:
    """The file `bcf.version`."""
    root = Tree.Element("Version", VersionId=version)
    if version == "2.1":
        _add(root, "DetailedVersion", version)
    return _bytes(root)


def new_markup(topic: Topic, index: int, when: str, model: Mapping[str, str], version: str) -> bytes:
    """The markup of a topic that was not there before."""
    root = Tree.Element("Markup")
    header = _add(root, "Header")
    files = _add(header, "Files") if version == "3.0" else header
    attributes = {"IfcProject": model["project"]} if model.get("project") else {}
    if model.get("storey"):
        attributes["IfcSpatialStructureElement"] = model["storey"]
    file = _add(files, "File", **attributes, **{"IsExternal" if version == "3.0" else "isExternal": "true"})
    _add(file, "Filename", model.get("file", ""))
    status = WAIVED if topic.waiver else OPEN
    entry = _add(root, "Topic", Guid=topic.guid, TopicType=TOPIC_TYPE, TopicStatus=status)
    _add(entry, "Title", topic.title)
    _add(entry, "Priority", topic.priority)
    _add(entry, "Index", str(index))
    labels = _add(entry, "Labels") if version == "3.0" else entry
    for label in topic.labels:
        _add(labels, "Label" if version == "3.0" else "Labels", label)
    _add(entry, "CreationDate", when)
    _add(entry, "CreationAuthor", AUTHOR)
    _add(entry, "AssignedTo", topic.role)
    _add(entry, "Description", topic.description)
    _add_viewpoint(root, entry, topic, version)
    return _bytes(root)


def _add_viewpoint(root: Tree.Element, entry: Tree.Element, topic: Topic, version: str) -> None:
    if topic.camera is None:
        return
    if version == "3.0":
        view = _add(_add(entry, "Viewpoints"), "ViewPoint", Guid=_view_guid(topic))
    else:
        view = _add(root, "Viewpoints", Guid=_view_guid(topic))
    _add(view, "Viewpoint", "viewpoint.bcfv")
    if topic.snapshot:
        _add(view, "Snapshot", "snapshot.png")
    _add(view, "Index", "0")


def _view_guid(topic: Topic) -> str:
    return str(uuid.uuid5(NAMESPACE, f"{topic.guid}|view"))


def _insert(topic: Tree.Element, name: str, text: str) -> None:
    """Sets a child's text, made in its place where it was missing."""
    child = topic.find(name)
    if child is None:
        child = Tree.Element(name)
        rank = _TOPIC_ORDER.index(name)
        place = sum(_TOPIC_ORDER.index(c.tag) < rank for c in topic if c.tag in _TOPIC_ORDER)
        topic.insert(place, child)
    child.text = _printable(text)


def _comment(root: Tree.Element, guid: str, text: str, when: str, version: str) -> None:
    topic = _topic(root)
    if version == "3.0":
        comments = topic.find("Comments")
        if comments is None:
            comments = Tree.Element("Comments")
            views = topic.find("Viewpoints")
            topic.insert(len(topic) if views is None else list(topic).index(views), comments)
        count = len(comments)
        comment = Tree.SubElement(comments, "Comment")
    else:
        earlier = root.findall("Comment")
        count = len(earlier)
        comment = Tree.Element("Comment")
        root.insert(list(root).index(earlier[-1] if earlier else topic) + 1, comment)
    comment.set("Guid", str(uuid.uuid5(NAMESPACE, f"{guid}|{count}|{when}")))
    _add(comment, "Date", when)
    _add(comment, "Author", AUTHOR)
    _add(comment, "Comment", text)


def keep_markup(data: bytes, topic: Topic, when: str) -> bytes:
    """The markup of a topic that is still there, with what it measures now; a text of others stays."""
    before = read_markup(data)
    if before.description == _printable(topic.description) or _is_theirs(before):
        return data
    root = Tree.fromstring(data)
    entry = _topic(root)
    _insert(entry, "Description", topic.description)
    _insert(entry, "ModifiedDate", when)
    _insert(entry, "ModifiedAuthor", AUTHOR)
    return _bytes(root)


def _is_theirs(markup: Markup) -> bool:
    """Whether somebody else wrote the description: ours names its rule and the rule's source."""
    return (
        bool(markup.description)
        and "\nRule " not in markup.description
        and markup.modified_by not in ("", AUTHOR)
    )


def comment_on(data: bytes, guid: str, text: str, when: str, version: str, status: str) -> bytes:
    """The markup with a comment of ours and another status."""
    root = Tree.fromstring(data)
    entry = _topic(root)
    entry.set("TopicStatus", status)
    _insert(entry, "ModifiedDate", when)
    _insert(entry, "ModifiedAuthor", AUTHOR)
    _comment(root, guid, text, when, version)
    return _bytes(root)


def close_markup(data: bytes, guid: str, when: str, file: str, version: str) -> bytes:
    """The markup of a topic of ours whose cause is gone."""
    text = f"{GONE_WORDS} in {file}." if file else f"{GONE_WORDS}."
    return comment_on(data, guid, text, when, version, CLOSED)


def _vector(parent: Tree.Element, name: str, values: Iterable[float]) -> None:
    child = _add(parent, name)
    for axis, value in zip("XYZ", values, strict=True):
        _add(child, axis, f"{value:.6f}")


def viewpoint_xml(topic: Topic, version: str) -> bytes:
    """The viewpoint: elements picked out, seen from below under a section plane. Metres."""
    camera = topic.camera
    assert camera is not None
    root = Tree.Element("VisualizationInfo", Guid=_view_guid(topic))
    components = _add(root, "Components")
    hints = {"SpacesVisible": "false", "SpaceBoundariesVisible": "false", "OpeningsVisible": "false"}
    if version == "2.1":
        _add(components, "ViewSetupHints", **hints)
    if topic.components:
        selection = _add(components, "Selection")
        for guid in topic.components:
            _add(selection, "Component", IfcGuid=guid)
    visibility = _add(components, "Visibility", DefaultVisibility="true")
    if version == "3.0":
        _add(visibility, "ViewSetupHints", **hints)
    if topic.hidden:
        exceptions = _add(visibility, "Exceptions")
        for guid in topic.hidden:
            _add(exceptions, "Component", IfcGuid=guid)
    view = _add(root, "OrthogonalCamera")
    _vector(view, "CameraViewPoint", camera.point)
    _vector(view, "CameraDirection", camera.direction)
    _vector(view, "CameraUpVector", camera.up)
    _add(view, "ViewToWorldScale", f"{camera.height:.6f}")
    if version == "3.0":
        _add(view, "AspectRatio", "1.5")
    planes = _add(root, "ClippingPlanes")
    # A plane's direction points to the side that is cut away (BCF-XML documentation).
    for place, way in ((camera.section, 1.0), (camera.floor, -1.0)):
        plane = _add(planes, "ClippingPlane")
        _vector(plane, "Location", place)
        _vector(plane, "Direction", (0.0, 0.0, way))
    return _bytes(root)


def extensions_xml(entries: Mapping[str, bytes]) -> bytes:
    """BCF 3.0's list of the words that occur in the topics, with those that stood there already."""
    root = (
        Tree.fromstring(entries["extensions.xml"])
        if "extensions.xml" in entries
        else Tree.Element("Extensions")
    )
    used: dict[str, set[str]] = {
        "TopicTypes": {TOPIC_TYPE},
        "TopicStatuses": {OPEN, CLOSED, WAIVED},
        "Priorities": set(),
        "TopicLabels": set(),
        "Users": {AUTHOR},
        "SnippetTypes": set(),
        "Stages": set(),
    }
    for name, data in entries.items():
        if name.endswith("/markup.bcf"):
            topic = _topic(Tree.fromstring(data))
            used["TopicTypes"].add(topic.get("TopicType", ""))
            used["TopicStatuses"].add(topic.get("TopicStatus", ""))
            used["Priorities"].add(topic.findtext("Priority", ""))
            used["TopicLabels"] |= {label.text or "" for label in topic.findall("Labels/Label")}
            users = [topic.findtext(tag, "") for tag in ("CreationAuthor", "ModifiedAuthor", "AssignedTo")]
            used["Users"] |= {*users, *(c.findtext("Author", "") for c in topic.findall("Comments/Comment"))}
            used["Stages"].add(topic.findtext("Stage", ""))
    made = Tree.Element("Extensions")
    for group, words in used.items():
        child = {"Priorities": "Priority", "TopicStatuses": "TopicStatus"}.get(group, group[:-1])
        stood = root.find(group)
        words |= {e.text or "" for e in (stood if stood is not None else ())}
        # Some releases of the schema want every group, also where no word of it occurs.
        holder = _add(made, group)
        for word in sorted(words - {""}):
            _add(holder, child, word)
    return _bytes(made)
