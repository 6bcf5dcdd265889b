"""Every picture of the reports: `listing.py` names them all; Matplotlib enters the project here and nowhere else."""

from diaphragm_fem.design.files.apart import apart

with apart("matplotlib", "mpl-data"):  # where its own settings lie, which it then takes before those of anybody else
    import matplotlib as matplotlib
