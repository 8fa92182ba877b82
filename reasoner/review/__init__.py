"""A mentor's reading of a trail: what was known when, what was chosen, what was missed. Reads; never writes a trail."""
