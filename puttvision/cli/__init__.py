"""Thin typer commands."""
