"""advise(knowledge, state, now) -> Advice: screens, beliefs, next questions, options put together."""
