"""The plot's values as a table, for who does not see it or wants a number."""

from html import escape

import numpy as np

from forebay.review.figure import rows_of

LINES = 48          # of the table: half an hour each in a day
DECIMALS = {"W": 2, "L/min": 2, "m": 3, "degC": 1, "V": 2, "% open": 1}


def values_table(review) -> str:
    """Return the means of equal parts of the time as a table that can be opened, as HTML."""
    rows = rows_of(review)
    known = np.isfinite(review.series.utc_s)
    at_s = review.series.utc_s[known]
    if not rows or len(at_s) < 2:
        return ""
    edges_s = np.linspace(at_s.min(), at_s.max(), LINES + 1)
    place = np.clip(np.searchsorted(edges_s, at_s, side="right") - 1, 0, LINES - 1)
    head, columns = ["<th scope=\"col\">from</th>"], []
    for row in rows:
        for name, values, *_ in row.curves:
            head.append(f'<th scope="col" class="n">{escape(f"{row.title}: {name}")}'
                        f" [{escape(row.unit)}]</th>")
            columns.append((_means(values[known], place), DECIMALS[row.unit]))
    lines = []
    for line in np.unique(place).tolist():
        cells = "".join(f'<td class="n">{_text(means[line], decimals)}</td>'
                        for means, decimals in columns)
        when = review.time(float(edges_s[line]), "%d %b %H:%M")
        lines.append(f'<tr><th scope="row">{when}</th>{cells}</tr>')
    return ("<details><summary>The values of the plot as a table</summary>\n"
            '<div class="scroll tall" tabindex="0" role="region" aria-label="Values of the plot">'
            "<table><caption>Means of equal parts of the time; empty: not known.</caption>\n"
            f"<tr>{''.join(head)}</tr>\n" + "\n".join(lines) + "</table></div></details>")


def _means(values, place):
    known = np.isfinite(values)
    count = np.bincount(place[known], minlength=LINES)
    total = np.bincount(place[known], values[known], LINES)
    return np.where(count, total / np.maximum(count, 1), np.nan)


def _text(value, decimals):
    if not np.isfinite(value):
        return ""
    text = f"{value:.{decimals}f}"
    return text if float(text) else f"{0:.{decimals}f}"
