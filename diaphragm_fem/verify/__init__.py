"""The ladder of checks: what the models must reproduce, with the source of every value."""
