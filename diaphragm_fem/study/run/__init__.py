"""How a study runs: cases solved by processes that may be killed, their rows brought into a store."""
