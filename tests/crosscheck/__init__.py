"""The diaphragm as a plain solid in three dimensions, by two libraries, without any Fourier expansion.

Nothing here knows our shell or section models: both solids start from the drawing alone (`Design`), so agreement is
evidence and not a circle.
"""
