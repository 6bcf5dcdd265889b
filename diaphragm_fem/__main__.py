"""The command, as `diaphragm-fem` and as `python -m diaphragm_fem`."""

import signal


def main() -> None:
    """Run the command. Ctrl-C as it loads ends it like any other program: Python would print what it was importing."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # ignored, as by nohup, stays so
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from diaphragm_fem.cli import main as command

    command()  # which ends in words from here on


if __name__ == "__main__":
    main()
