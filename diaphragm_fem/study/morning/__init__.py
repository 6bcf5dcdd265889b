"""What the morning makes of a night's store: ranking, trade-offs, what matters, what scatter does, how lonely the
winner is."""

from diaphragm_fem.study.morning.page import Morning, morning

__all__ = ["Morning", "morning"]
