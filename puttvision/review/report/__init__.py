"""The report a pupil keeps: one HTML file that needs nothing else."""
