"""From the dome to flat pieces and back: seams, flattening, marks, joins and the virtual build."""
