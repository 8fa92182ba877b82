"""What may be done now (gates by load class) and what it may be worth (chance of a worthwhile change)."""
