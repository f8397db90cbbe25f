"""A stage's figures: declaring them, reading them from YAML with their positions and units, and binding them."""
