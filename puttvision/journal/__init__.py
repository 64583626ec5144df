"""The journal: players, sessions and putts kept from week to week, and what they say."""
