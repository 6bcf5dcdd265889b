"""`python -m diaphragm_fem` is the command too."""

from diaphragm_fem.cli import main

if __name__ == "__main__":
    main()
