"""Start farmmap with ``python -m farmmap``."""

from farmmap.commands import main

if __name__ == "__main__":
    main()
