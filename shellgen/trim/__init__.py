"""The foam rings round the spikes and the edging of the rim."""
