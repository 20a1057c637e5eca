"""forebay review"""

import click

from forebay.cli.options import check_page, rig_option, shelf_option, write_whole


@click.command("review")
@shelf_option
@rig_option
@click.option(
    "--out",
    default="review.html",
    show_default=True,
    type=click.Path(dir_okay=False),
    metavar="FILE",
    help="Where to write the page.",
)
def command(shelf_path: str | None, rig_path: str | None, out: str) -> None:
    """Show the night on one page and in the terminal.

    The page needs no network: plot, events, energy table and what was
    assumed are all in the one file.

    \b
    Example:
      forebay review --out last-night.html
    """
    from forebay.review import page, review_of, summary
    from forebay.review.kept import kept_rig
    from forebay.shelf import Shelf

    check_page(out)
    with Shelf(shelf_path, create=False) as shelf:
        rig_id, rig, notes = kept_rig(shelf, rig_path)
        review = review_of(shelf, rig, rig_id, notes=notes)
    write_whole(out, page(review))
    click.echo(summary(review), nl=False)
    click.echo(f"page: {out}", err=True)
