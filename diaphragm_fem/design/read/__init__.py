"""From a design file to the finished `Design`: built, checked, and asked about where it is unusual."""
