"""Reference solutions that share no code with the models they check."""
