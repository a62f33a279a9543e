"""``python -m photoperiod`` is the same program as ``photoperiod``."""

from photoperiod.cli import main

if __name__ == "__main__":
    main()
