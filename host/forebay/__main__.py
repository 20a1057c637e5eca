"""python -m forebay: the `forebay` command."""

from forebay.cli import main

main()
