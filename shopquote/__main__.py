"""`python -m shopquote` where the script is not on the path."""

from shopquote.cli.app import main

if __name__ == "__main__":
    main()
