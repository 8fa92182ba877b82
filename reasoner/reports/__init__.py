"""Documents that leave the room, made from one case state. Plain text; no reasoning of their own."""
