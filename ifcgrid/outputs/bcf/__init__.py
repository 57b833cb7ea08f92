"""Issues for coordination: one BCF topic a failing finding, kept between runs."""

from ifcgrid.outputs.bcf.archive import BcfChange, update_bcf
from ifcgrid.outputs.bcf.topic import Topic, make_topics

__all__ = ["BcfChange", "Topic", "make_topics", "update_bcf"]
