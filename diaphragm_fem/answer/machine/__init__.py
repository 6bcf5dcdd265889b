"""How work runs on this machine: cores, one numeric thread, room for it, signals that wait."""
