"""Frames in, with their true times and upright luma; clips out. The only package that opens video files."""

from puttvision.clip.facts import ClipFacts, check_measurable
from puttvision.clip.frame import Frame
from puttvision.clip.source import Clip, open_clip

__all__ = ["Clip", "ClipFacts", "Frame", "check_measurable", "open_clip"]
