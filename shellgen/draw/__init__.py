"""What stands on each sheet and in each scene. Makes Drawings, Scenes and Tables; knows no file format."""
