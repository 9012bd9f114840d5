"""What an outside check found: faults, counts, and the worst figures."""


class Found:
    def __init__(self):
        self.faults, self.counts, self.worst = [], {}, {}

    def hold(self, ok, says):
        if not ok:
            self.faults.append(says)
        return ok

    def count(self, what, n=1):
        self.counts[what] = self.counts.get(what, 0) + n

    def most(self, what, v):
        self.worst[what] = max(self.worst.get(what, 0.0), v)
