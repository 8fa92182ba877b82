"""What is on the screen, as plain data, and its rendering. The only folder that uses rich."""
