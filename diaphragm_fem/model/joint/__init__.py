"""What ends and joints of walls yield beyond shell theory, from patches of the solid."""
