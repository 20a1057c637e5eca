"""Quarter-hour summaries: least, mean and greatest of each column's rows."""

from keeper.channels import COLUMNS
from keeper.clock import PERIODS_PER_S
from keeper.rows import NOT_TRUSTED

QUARTER_DS = 9000  # 15 min of uptime [0.1 s]


class Quarter:
    """Gathers rows [stored means] until the quarter hour is over.

    Means are weighted by the scans of their rows; a row that is not trusted
    in a column does not count there.
    """

    def __init__(self):
        self.scans = 0
        self.least = [0] * COLUMNS
        self.greatest = [0] * COLUMNS
        self.weighted = [0] * COLUMNS  # sum of mean * scans
        self.weights = [0] * COLUMNS   # sum of scans

    def add(self, row, start, scans):
        """Take the stored means row[start:] of a row of `scans` scans."""
        self.scans += scans
        for index in range(COLUMNS):
            mean = row[start + index]
            if mean == NOT_TRUSTED:
                continue
            if self.weights[index] == 0:
                self.least[index] = mean
                self.greatest[index] = mean
            elif mean < self.least[index]:
                self.least[index] = mean
            elif mean > self.greatest[index]:
                self.greatest[index] = mean
            self.weighted[index] += mean * scans
            self.weights[index] += scans

    def close(self):
        """Return (seconds covered, 14 x [least, mean, greatest]) and begin anew."""
        marks = []
        for index in range(COLUMNS):
            weight = self.weights[index]
            if weight:
                mean = (2 * self.weighted[index] + weight) // (2 * weight)
                marks += [self.least[index], mean, self.greatest[index]]
            else:
                marks += [NOT_TRUSTED] * 3
            self.weighted[index] = 0
            self.weights[index] = 0
        seconds = min(self.scans // PERIODS_PER_S, 65535)
        self.scans = 0
        return seconds, marks
