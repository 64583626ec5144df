"""What a coach sees of a session: annotated clips, the report, and the page with the last word."""
