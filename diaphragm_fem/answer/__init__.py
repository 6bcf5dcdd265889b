"""What one design says: its whole evaluation, how far to trust it, its comparison with others."""
