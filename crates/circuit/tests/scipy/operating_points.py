"""Operating points of boards, by SciPy: the equations of the parts once more, written independently.

Reads one JSON document from standard input:

    {"cards": {NAME: {PARAMETER: value}},
     "boards": [{"nodes": count, "held": [[node, volts]], "resistors": [[a, b, ohms]],
                 "junctions": [[anode, cathode, card]], "transistors": [[c, b, e, card, sign]]}]}

and writes {"volts": [[per node] per board], "seconds": seconds spent solving, "missing": amps} to standard
output. Node 0 is ground. Every series resistance has a node of its own; nothing is eliminated by hand.

Laws: Shockley 1949 for junctions; Ebers and Moll 1954 with the base charge of Gummel and Poon 1970 for
transistors. Newton's method with the sparse LU of scipy.sparse.linalg (SuperLU).
"""

import json
import sys
import time

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

VT = 1.380649e-23 * 300.15 / 1.602176634e-19
SMALL = 1e-10  # amps
STEP = 1e-7  # volts
LEAK = 1e-12  # siemens from every net to ground: a net behind a lamp that is off floats else


def column(cards, names, key, absent=0.0):
    """One parameter of each part; a parameter that a card has none of is left out of the document."""
    return np.array([cards[name].get(key, absent) for name in names], dtype=float)


class Board:
    def __init__(self, cards, board):
        self.nodes = board["nodes"]
        self.count = self.nodes
        edges = [(a, b, 1.0 / ohms) for a, b, ohms in board["resistors"]]

        names = [name for _, _, name in board["junctions"]]
        self.dis = column(cards, names, "IS")
        self.dn = column(cards, names, "N")
        self.da, self.dk = self.inner(board["junctions"], 0, column(cards, names, "RS"), edges), \
            np.array([k for _, k, _ in board["junctions"]], dtype=int)

        parts = board["transistors"]
        names = [part[3] for part in parts]
        self.sign = np.array([part[4] for part in parts], dtype=float)
        self.c = self.inner(parts, 0, column(cards, names, "RC"), edges)
        self.b = self.inner(parts, 1, column(cards, names, "RB"), edges)
        self.e = np.array([part[2] for part in parts], dtype=int)
        for key in ("IS", "BF", "NE", "ISE", "BR"):
            setattr(self, key.lower(), column(cards, names, key))
        self.ikf = column(cards, names, "IKF", np.inf)
        self.vaf = column(cards, names, "VAF", np.inf)

        self.ra = np.array([edge[0] for edge in edges], dtype=int)
        self.rb = np.array([edge[1] for edge in edges], dtype=int)
        self.g = np.array([edge[2] for edge in edges], dtype=float)
        self.held = np.zeros(self.count, dtype=bool)
        self.x = np.zeros(self.count)
        self.held[0] = True
        for node, volts in board["held"]:
            self.held[node], self.x[node] = True, volts
        self.free = np.flatnonzero(~self.held)
        self.number = np.full(self.count, -1)
        self.number[self.free] = np.arange(len(self.free))
        self.places()

    def inner(self, parts, end, ohms, edges):
        """A node behind each series resistance."""
        nodes = np.array([part[end] for part in parts], dtype=int)
        for k, value in enumerate(ohms):
            if value > 0:
                edges.append((int(nodes[k]), self.count, 1.0 / value))
                nodes[k] = self.count
                self.count += 1
        return nodes

    def places(self):
        """Row and column of every entry, in the order in which `entries` gives their values."""
        ra, rb, da, dk, c, b, e = self.ra, self.rb, self.da, self.dk, self.c, self.b, self.e
        rows = np.concatenate([ra, rb, ra, rb, da, dk, da, dk, c, c, c, b, b, b, e, e, e])
        cols = np.concatenate([ra, rb, rb, ra, da, dk, dk, da, c, b, e, c, b, e, c, b, e])
        rows, cols = self.number[rows], self.number[cols]
        self.kept = (rows >= 0) & (cols >= 0)
        self.rows, self.cols = rows[self.kept], cols[self.kept]

    def junctions(self, x):
        return np.concatenate([
            x[self.da] - x[self.dk],
            self.sign * (x[self.b] - x[self.e]),
            self.sign * (x[self.b] - x[self.c]),
        ])

    def evaluate(self, x, at, leak):
        """Currents leaving each node and the matrix, linear around the junction voltages `at`."""
        leak = np.where(np.arange(self.count) < self.nodes, leak, 0.0)
        f = leak * x
        i = self.g * (x[self.ra] - x[self.rb])
        np.add.at(f, self.ra, i)
        np.add.at(f, self.rb, -i)
        off = self.junctions(x) - at
        d, t = len(self.da), len(self.c)

        scale = self.dn * VT
        rise = np.exp(at[:d] / scale)
        gd = self.dis * rise / scale
        i = self.dis * (rise - 1) + gd * off[:d]
        np.add.at(f, self.da, i)
        np.add.at(f, self.dk, -i)

        vbe, vbc = at[d:d + t], at[d + t:]
        ebe, ebc, ele = np.exp(vbe / VT), np.exp(vbc / VT), np.exp(vbe / (self.ne * VT))
        forward, reverse = self.is_ * (ebe - 1), self.is_ * (ebc - 1)
        gf, gr = self.is_ * ebe / VT, self.is_ * ebc / VT
        root = np.sqrt(1 + 4 * forward / self.ikf)
        base_charge = (1 + root) / (2 * (1 - vbc / self.vaf))
        charge_be = gf / self.ikf / root / (1 - vbc / self.vaf)
        charge_bc = base_charge / (1 - vbc / self.vaf) / self.vaf
        transport = (forward - reverse) / base_charge
        ic = transport - reverse / self.br
        ib = forward / self.bf + self.ise * (ele - 1) + reverse / self.br
        ic_be = gf / base_charge - transport * charge_be / base_charge
        ic_bc = -gr / base_charge - transport * charge_bc / base_charge - gr / self.br
        ib_be = gf / self.bf + self.ise * ele / (self.ne * VT)
        ib_bc = gr / self.br
        obe, obc = off[d:d + t], off[d + t:]
        ic = self.sign * (ic + ic_be * obe + ic_bc * obc)
        ib = self.sign * (ib + ib_be * obe + ib_bc * obc)
        np.add.at(f, self.c, ic)
        np.add.at(f, self.b, ib)
        np.add.at(f, self.e, -ic - ib)
        cc, cb, ce = -ic_bc, ic_be + ic_bc, -ic_be
        bc, bb, be = -ib_bc, ib_be + ib_bc, -ib_be
        g = self.g
        values = np.concatenate([g, g, -g, -g, gd, gd, -gd, -gd,
                                 cc, cb, ce, bc, bb, be, -cc - bc, -cb - bb, -ce - be])
        n = len(self.free)
        matrix = csc_matrix((values[self.kept], (self.rows, self.cols)), shape=(n, n))
        matrix.setdiag(matrix.diagonal() + leak[self.free])
        return f[self.free], matrix

    def newton(self, x, at, leak, most):
        """Newton's method; a junction's rise past its knee is taken by the logarithm."""
        scale = np.concatenate([self.dn * VT, np.full(2 * len(self.c), VT)])
        saturation = np.concatenate([self.dis, self.is_, self.is_])
        knee = scale * np.log(scale / (np.sqrt(2) * saturation))
        settled = False
        for _ in range(most):
            f, matrix = self.evaluate(x, at, leak)
            missing = np.abs(f).max(initial=0.0)
            if settled and missing < SMALL:
                return x, at, missing
            step = -splu(matrix).solve(f)
            highest, lowest = self.x.max() + 1, self.x.min() - 1
            new = x.copy()
            new[self.free] = np.clip(x[self.free] + step, lowest, highest)
            settled = np.abs(new - x).max() < STEP
            wanted = self.junctions(new)
            rise = np.maximum((wanted - at) / scale, -0.999)
            slow = np.where(at > 0, at + scale * np.log1p(rise), scale * np.log(np.maximum(wanted, scale) / scale))
            hold = (wanted > knee) & (np.abs(wanted - at) > 2 * scale)
            settled &= not hold.any()
            x, at = new, np.where(hold, slow, wanted)
        return None

    def solve(self):
        at = np.concatenate([0.6 * np.ones(len(self.da) + len(self.c)), np.zeros(len(self.c))])
        found = self.newton(self.x.copy(), at, LEAK, 200)
        if found is None:
            x = self.x.copy()
            leak = 1e-2
            while True:
                found = self.newton(x, at, leak, 200)
                if found is None:
                    raise RuntimeError(f"no operating point, leak {leak}")
                if leak == LEAK:
                    break
                x, at, _ = found
                leak = max(0.3 * leak, LEAK)
        return found


setattr(Board, "is_", property(lambda board: getattr(board, "is")))


def main():
    document = json.load(sys.stdin)
    volts, missing = [], 0.0
    start = time.perf_counter()
    for board in document["boards"]:
        board = Board(document["cards"], board)
        x, _, left = board.solve()
        volts.append(x[:board.nodes].tolist())
        missing = max(missing, left)
    seconds = time.perf_counter() - start
    json.dump({"volts": volts, "seconds": seconds, "missing": missing}, sys.stdout)


main()
