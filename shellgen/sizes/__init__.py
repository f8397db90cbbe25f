"""One design for many wearers: the wearers, the grading, the builds and the size chart."""
