"""One design in many materials and thicknesses, on one mesh and small bases that they share."""
