"""The shell of revolution: unknowns, strains, walls and their sum, for any circumferential order m."""
