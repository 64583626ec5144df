"""Frames in, with their true times and upright luma; clips out. The only package that opens video files."""
