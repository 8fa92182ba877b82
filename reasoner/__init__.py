"""A clinical reasoning assistant for physiotherapists. The engine is region-neutral; knowledge is YAML."""

__version__ = "0.1.0"
