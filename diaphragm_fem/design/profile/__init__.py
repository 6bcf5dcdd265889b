"""Shapes from few numbers: V-profile, dome, free meridian, their steps and surrounds."""
