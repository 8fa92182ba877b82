"""The interactive loop: keys in, command objects out. No clinical logic; the only folder that uses prompt-toolkit."""
