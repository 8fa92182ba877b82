"""Numbers people measure: what they typed, their error, and whether a change is more than error. No knowledge here."""
