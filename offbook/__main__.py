"""`python -m offbook` is the same as `offbook`."""

from offbook.cli import main

if __name__ == "__main__":
    main()
