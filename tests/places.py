"""Where the files lie that tests read."""

from pathlib import Path

STUDIES = Path(__file__).parents[1] / "studies"  # the shipped designs and studies
CORPUS = Path(__file__).parent / "corpus"
BUTTED = CORPUS / "designs" / "seed_dome.toml"  # a metal dome, its roll of silk butted against it
