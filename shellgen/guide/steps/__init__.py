"""The chapters of the guide, one file each, in the order of their PLACE. Each gives its steps for one shell."""
