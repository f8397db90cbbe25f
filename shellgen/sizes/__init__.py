"""One design for many wearers: who they are, how the design is graded to each, building all, and the size chart."""
