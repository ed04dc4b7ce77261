"""`python -m groundtone`: the same as the command groundtone."""

from groundtone.app.command import main

if __name__ == "__main__":
    main()
