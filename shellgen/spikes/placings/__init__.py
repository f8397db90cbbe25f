"""Ways to place spikes, one file each: which places on the shell a group asks for."""
