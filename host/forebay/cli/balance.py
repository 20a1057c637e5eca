"""forebay balance"""

import click

from forebay.cli.options import json_option, print_json, rig_option, shelf_option


@click.command("balance")
@shelf_option
@rig_option
@json_option
def command(shelf_path: str | None, rig_path: str | None, as_json: bool) -> None:
    """Say where the energy and the water went, with uncertainties.

    Energies and volumes come from the board's totals; every +- is two
    standard uncertainties, from the rig's stated meters.

    \b
    Example:
      forebay balance --json > balance.json
    """
    from forebay.review import review_of, summary
    from forebay.review.kept import kept_rig
    from forebay.shelf import Shelf

    with Shelf(shelf_path, create=False) as shelf:
        rig_id, rig, notes = kept_rig(shelf, rig_path)
        review = review_of(shelf, rig, rig_id, notes=notes)
    if as_json:
        print_json(review.balance.as_json())
    else:
        click.echo(summary(review, events=False), nl=False)
