"""The dome's surface, a file for each kind, and the dome as triangles."""
