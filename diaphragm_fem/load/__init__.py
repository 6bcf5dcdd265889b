"""What surrounds the diaphragm: air, motor, chambers, slots, channels and exit, each in its own file.

Pure physics: numbers in, numbers out. What acts on a structure ends in a complex dynamic stiffness on a port.
"""
