"""Spikes: profiles, placing, fitted bases, solids, moulds, cores."""
