"""Documents that leave the room, made from one case state. No reasoning of their own, no clinical wording."""
