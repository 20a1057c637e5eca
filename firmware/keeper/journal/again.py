"""Puts rows and summaries of an earlier run's tail back to where a run keeps them.

Straight into the places that are there for them: no tail, however long, takes
more memory than another.  Writes nothing but blocks.  Used at a start only.
"""


class HeldAgain:
    """Rows or summaries of the tail on their way back into `held`, by their numbers.

    A window of as many numbers as `held` has places stands at those that are
    in no block.  What is met within goes to its place, in whatever order it
    comes and however often; `settle` packs what must not be held and moves the
    window on, if something was met behind it: then the tail is to be read again.
    """

    def __init__(self, packer, segments, stream):
        """packer: of the run, and of what it holds; its blocks go to `stream`."""
        self.held = packer.held
        self.packer = packer
        self.segments = segments
        self.stream = stream
        self.packed = 0   # last number of the newest block
        self.newest = 0   # number that has been used, or may have been, at most
        self.first = 1    # number of the window's first place
        self.there = bytearray(self.held.most)
        self.end = 0      # places up to the last that is filled
        self.beyond = 0   # least number behind the window that was met, 0: none
        self.lost = 0     # blocks that could not be written

    def note_block(self, last):
        """A block ends with number `last`."""
        self.packed = max(self.packed, last)
        self.newest = max(self.newest, last)

    def note(self, seq):
        """A number was used."""
        self.newest = max(self.newest, seq)

    def begin(self):
        """All blocks are known: what comes now may be behind them."""
        self.first = self.packed + 1

    def put(self, seq, content):
        """Take a thing of the tail that has number `seq`."""
        place = seq - self.first
        if place >= len(self.there):
            if not self.beyond or seq < self.beyond:
                self.beyond = seq
        elif place >= 0 and not self.there[place]:
            self.held.put(place, content)
            self.there[place] = 1
            self.end = max(self.end, place + 1)

    def settle(self):
        """Hold what the window has; return whether there is more behind it.

        A block holds numbers without a gap: what lies before one is packed at
        once, as are as many as a block takes.
        """
        held = self.held
        held.count = 0
        held.first_seq = self.first
        for place in range(self.end):
            if self.there[place]:
                if held.count == self.packer.most:
                    self._pack()
                held.count += 1
            else:
                if held.count:
                    self._pack()
                held.count += 1  # an empty place
                held.drop(1)
        follows = self.beyond or self.newest + 1
        if held.count and (held.count == held.most or held.first_seq + held.count != follows):
            self._pack()
        if not held.count:
            held.first_seq = follows
        if not self.beyond:
            return False
        self._move(held.first_seq)
        return True

    def _move(self, first):
        """Let the window begin at a higher number; what is filled from there on stays so."""
        shift = first - self.first
        there = self.there
        self.end = max(self.end - shift, 0)
        for place in range(len(there)):
            there[place] = there[place + shift] if place < self.end else 0
        self.first = first
        self.beyond = 0

    def _pack(self):
        """Write the held ones as a block; they are dropped even if that fails."""
        packer = self.packer
        packer.begin(self.held.count)
        while not packer.step():
            pass
        self.held.drop(self.held.count)
        if not append_at_start(self.segments, self.stream, packer.buffer, packer.size):
            self.lost += 1


def append_at_start(segments, stream, data, count):
    """Append data[:count], in a new segment if the newest fails; return whether it is on flash."""
    return segments.append(stream, data, count) or segments.append_new(stream, data, count)
