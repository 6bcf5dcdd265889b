"""What surrounds the diaphragm: air, motor, chambers, slots, channels and exit, each in its own file.

Pure physics: numbers in, numbers out. What acts on a structure ends in a complex dynamic stiffness on a port. The way
in is `surround` of `surroundings`, which makes all loads of a design. What it calls, in order:

1. `air`           moist air; `slit`: what is left of it between close walls
2. `rear_chamber`  a spring, or a tube, with its leak; `air_behind`: what moves to and fro in it
3. `thin_chamber`  pressure along the gap, corrected at bends and slots by `junction`; `face_air`: across it
   `plug`          gap, slots and channels as drawn; `line`: channels as two-ports; `slot_network` joins them
   `exit_end`      what they end in
4. `open_side`     free air instead, before a baffle: `radiation` on `face_patterns`, `short_waves` beside

Beside it, and left at a first reading: `motor` drives, `power` is where it goes, `two_sections` share an exit,
`slot_rule` lays out slots by modes alone.

Shapes: F frequencies, N patterns of pressure, J slots, n unknowns of the diaphragm. SI; exp(+i omega t).
"""
