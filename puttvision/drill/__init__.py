"""Drill rules, the scoring engine, the catalogue and odds. Knows nothing of vision."""
