"""A case as a value: event types, and apply(state, event) -> state. No knowledge, no numbers, no clock."""
