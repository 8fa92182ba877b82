"""State + knowledge + now -> three-valued facts and observations. The only place where a measure becomes evidence."""
