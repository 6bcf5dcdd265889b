"""Every picture of the reports: `listing.py` names them all; Matplotlib enters the project here and nowhere else."""
