"""The content of each sheet and scene, as Drawings, Scenes and Tables in no file format."""
