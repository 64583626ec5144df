"""What the journal says of a player: statistics, progress, what to practise next, ladders of a group."""
