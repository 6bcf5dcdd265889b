"""Air around a part in two dimensions, in the gap before a face or free before a baffle."""
