"""Measures putts from a phone clip and scores putting drills."""

__version__ = "0.1.0"
