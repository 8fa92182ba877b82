"""The record of a case: durable, append-only, hash-chained lines. What the payloads mean is nobody's business here."""
