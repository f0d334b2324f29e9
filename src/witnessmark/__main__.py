"""``python -m witnessmark``."""

from witnessmark.cli.main import main

if __name__ == "__main__":
    main()
