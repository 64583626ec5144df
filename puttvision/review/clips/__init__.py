"""Annotated clips: what was measured, drawn on the green in true perspective."""
