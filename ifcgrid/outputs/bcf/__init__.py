"""Issues for coordination: one BCF topic a failing finding, kept between runs."""

from ifcgrid.outputs.bcf.archive import BcfChange, Version, read_waivers, update_bcf
from ifcgrid.outputs.bcf.topic import Topic, make_topics

__all__ = ["BcfChange", "Topic", "Version", "make_topics", "read_waivers", "update_bcf"]
