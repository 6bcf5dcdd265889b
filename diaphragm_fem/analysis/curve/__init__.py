"""The area over frequency, solved on few unknowns at the places where it has something to say."""
