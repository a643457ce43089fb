# What scipy does with the cases on standard input, and the values that all are
# held against. One result a line: case, task, peer, milliseconds, values.
import json, sys, time
import numpy as np
import scipy
from scipy import optimize, special, stats

inp = json.load(sys.stdin)
GL = np.polynomial.legendre.leggauss


def pieces(cuts, n):
    """Gauss-Legendre nodes and weights over several pieces."""
    x, w = GL(n)
    xs, ws = [], []
    for a, b in zip(cuts[:-1], cuts[1:]):
        xs.append((a + b) / 2 + (b - a) / 2 * x)
        ws.append((b - a) / 2 * w)
    return np.concatenate(xs), np.concatenate(ws)


def deviations(df):
    """Nodes and weights of s, s^2 chi-square over df, in log s."""
    t, w = pieces(np.linspace(-38 / max(1.0, np.sqrt(df)) - 1, 1.3, 25), 16)
    logf = np.log(2) + df / 2 * np.log(df / 2) - special.gammaln(df / 2) - df / 2 * (np.exp(2 * t) - 2 * t)
    return np.exp(t), w * np.exp(logf)


U, W = pieces(np.linspace(-9, 9, 13), 16)
F = W * np.exp(-U * U / 2) / np.sqrt(2 * np.pi)


def inside(lo, hi):
    # The tail that is small is subtracted, on either side.
    return np.where(lo > 0, special.ndtr(-lo) - special.ndtr(-hi), special.ndtr(hi) - special.ndtr(lo))


def outside(case, c):
    """P(max |T| > c): the control stints are the factors, one after the other.

    A candidate stint is e - (1-t) u_before - t u_after, all of variance 1; a
    one-way layout is a single control of variance 1/n0 that all share."""
    s, f = deviations(case["df"])
    total = 0.0
    for si, fi in zip(s, f):
        if fi < 1e-18:
            continue
        if "order" not in case:
            q = np.zeros_like(U)
            for n in case["n"]:
                h = c * si * np.sqrt(1 / n + 1 / case["n0"])
                own, m = np.sqrt(1 / n), U / np.sqrt(case["n0"])
                q += np.log1p(-np.minimum(1 - 1e-300, special.ndtr((m - h) / own) + special.ndtr((-h - m) / own)))
            total += fi * np.sum(F * -np.expm1(q))
            continue
        # Tails, not insides, are carried along, so that small ones keep digits.
        out = np.zeros_like(U)  # given the control at hand: what was before
        for bracket in case["order"].strip("K").split("K"):
            q = np.zeros((len(U), len(U)))
            for j in range(len(bracket)):
                t = (j + 1) / (len(bracket) + 1)
                m = (1 - t) * U[:, None] + t * U[None, :]
                h = c * si * np.sqrt(1 + t * t + (1 - t) ** 2)
                q += np.log1p(-np.minimum(1 - 1e-16, special.ndtr(m - h) + special.ndtr(-h - m)))
            q = -np.expm1(q)
            out = F @ (out[:, None] + (1 - out[:, None]) * q)
        total += fi * np.sum(F * out)
    return float(total)


def report(case, task, peer, seconds, values):
    print(json.dumps({"case": case["name"], "task": task, "peer": peer, "ms": [1e3 * x for x in seconds], "values": values}), flush=True)


def timed(runs, f):
    seconds, values = [], []
    f()
    for _ in range(runs):
        a = time.perf_counter()
        v = f()
        seconds.append(time.perf_counter() - a)
        values.append([float(x) for x in v])
    return seconds, values


for case in inp["cases"]:
    report(case, "p", "reference", [], [[outside(case, abs(t)) for t in case["t"]]])
    report(case, "point", "reference", [], [[optimize.brentq(lambda c: outside(case, c) - 0.05, 1, 40, xtol=1e-13, rtol=1e-14)]])
    peer = "scipy " + scipy.__version__
    r = np.array(case["corr"])
    if "order" not in case and hasattr(stats, "dunnett"):
        x, control = [np.array(v) for v in case["data"]], np.array(case["control"])
        report(case, "p", peer + " dunnett", *timed(inp["runs"], lambda: stats.dunnett(*x, control=control).pvalue))
        se = case["s"] * np.sqrt(1 / np.array(case["n"]) + 1 / case["n0"])

        def point():
            res = stats.dunnett(*x, control=control)
            ci = res.confidence_interval()
            return [(ci.high[0] - ci.low[0]) / 2 / se[0]]

        report(case, "point", peer + " dunnett", *timed(inp["runs"], point))
    elif hasattr(stats.multivariate_t, "cdf"):
        mvt = stats.multivariate_t(shape=r, df=case["df"])
        k = len(r)
        report(case, "p", peer + " multivariate_t.cdf", *timed(inp["runs"], lambda: [1 - mvt.cdf(np.full(k, abs(t)), lower_limit=np.full(k, -abs(t))) for t in case["t"]]))
