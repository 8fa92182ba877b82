"""Three-valued rules over facts, and the screens made of them. Knows no anatomy and no probability."""
