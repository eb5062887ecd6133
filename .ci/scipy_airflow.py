"""Solves exported airflow networks with scipy and compares; see scipy-airflow.

Written from the conventions in the package comment of procedure/airflow, not
from its code: mass balance, density of the upstream node, dry air, pressures at
each zone's floor against still outdoor air at that height.
"""
import json
import sys
import time

import numpy as np
from scipy.optimize import root

G, R, RHO0, LOW = 9.80665, 287.042, 1.2041, 1e-3
POWER, MASS, LEAKAGE, ORIFICE, DOORWAY, VENT, DUCT = range(1, 8)
AGREE, FASTER = 1e-6, 20.0


class Balance:
    """Mass balance of a network in a state, vectorized over its links."""

    def __init__(self, network, state):
        out = network["Outdoors"]
        zones = network["Zones"]
        self.n = n = len(zones)
        temperature = np.array([z["Temperature"] for z in zones] + [out["Temperature"]])
        self.rho = rho = out["Pressure"] / (R * temperature)
        floor = np.array([z["Floor"] for z in zones] + [0.0])
        q = 0.5 * rho[n] * out["Wind"] ** 2

        def node(v):
            return n if v < 0 else v

        def above(k, height, cp):
            """Pressure of node k at a height over still outdoor air there, less its unknown."""
            return cp * q if k == n else (rho[n] - rho[k]) * G * (height - floor[k])

        rows = []
        for link, opening in zip(network["Links"], state["Links"]):
            law, a, b = link["Law"], node(link["From"]), node(link["To"])
            kind, low, high, exponent = law["Kind"], link["Height"], link["Height"], 0.5
            extra = 0.0
            if kind in (POWER, DUCT):
                exponent, there, back = law["Exponent"], law["Coefficient"] * rho[a], law["Coefficient"] * rho[b]
                if kind == DUCT:
                    extra = law["Drive"] * state["AirHandlers"][law["AirHandler"]] ** 2
            elif kind == MASS:
                exponent, there, back = law["Exponent"], law["Coefficient"], law["Coefficient"]
            elif kind == LEAKAGE:
                exponent = law["Exponent"]
                c = law["Area"] * law["Discharge"] * (2 / RHO0) ** 0.5 * law["Reference"] ** (0.5 - exponent)
                there, back = c * rho[a], c * rho[b]
            elif kind in (ORIFICE, DOORWAY):
                area = law["Area"]
                if kind == DOORWAY:
                    area, low = law["Width"] * law["Tall"], low + law["Tall"] / 2
                    high = low
                there, back = (law["Discharge"] * area * (2 * rho[k]) ** 0.5 for k in (a, b))
            elif kind == VENT:
                high = law["Top"]
                gas = out["Pressure"] / (R * law["Temperature"])
                there = back = law["Area"] * (2 * gas / (law["LossIn"] + law["LossOut"])) ** 0.5
                extra = (rho[n] - gas) * G * (high - low)
            else:
                raise ValueError(f"link of kind {kind}")
            static = above(a, low, link["Cp"]) - above(b, high, link["Cp"]) + extra
            rows.append((a, b, exponent, there * opening, back * opening, static))
        self.a, self.b = (np.array([r[i] for r in rows]) for i in (0, 1))
        self.exponent, self.there, self.back, self.static = (np.array([r[i] for r in rows]) for i in (2, 3, 4, 5))
        # Below LOW: x (e + f x^2), with the value and slope of x^n at LOW.
        self.f = (self.exponent - 1) / 2 * LOW ** (self.exponent - 3)
        self.e = (3 - self.exponent) / 2 * LOW ** (self.exponent - 1)

        self.fixed = np.zeros(n + 1)
        self.curves = []
        for fan, speed in zip(network["Fans"] or [], state["Fans"]):
            a, b = node(fan["From"]), node(fan["To"])
            if fan["Curve"] and speed:
                head = np.array([p["Head"] for p in fan["Curve"]]) * speed**2
                flow = np.array([p["Flow"] for p in fan["Curve"]]) * speed * rho[a]
                static = above(b, fan["Height"], fan["Cp"]) - above(a, fan["Height"], fan["Cp"])
                self.curves.append((a, b, static, head, flow))
            else:
                self.fixed[a] += rho[a] * speed * fan["Flow"]
                self.fixed[b] -= rho[a] * speed * fan["Flow"]
        for handler, speed in zip(network["AirHandlers"] or [], state["AirHandlers"]):
            total = 0.0
            for share in handler["Returns"]:
                k = node(share["Node"])
                mass = rho[k] * handler["Flow"] * speed * share["Fraction"]
                self.fixed[k] += mass
                total += mass
            for share in handler["Supplies"]:
                self.fixed[node(share["Node"])] -= total * share["Fraction"]

    def __call__(self, p):
        p = np.append(p, 0.0)
        dp = p[self.a] - p[self.b] + self.static
        x = np.abs(dp)
        flow = np.where(x < LOW, x * (self.e + self.f * x * x), x**self.exponent)
        flow = np.where(dp > 0, self.there * flow, -self.back * flow)
        out = self.fixed + np.bincount(self.a, flow, self.n + 1) - np.bincount(self.b, flow, self.n + 1)
        for a, b, static, head, given in self.curves:
            mass = np.interp(p[b] - p[a] + static, head, given)
            out[a] += mass
            out[b] -= mass
        return out[: self.n]


def solve(balance):
    """Pressures and the seconds of the call that found them, or None."""
    start = np.zeros(balance.n)
    for method, options in (("hybr", {"xtol": 1e-13, "maxfev": 20000}), ("lm", {"xtol": 1e-15, "ftol": 1e-15, "gtol": 0, "maxiter": 20000})):
        begun = time.perf_counter()
        found = root(balance, start, method=method, options=options)
        seconds = time.perf_counter() - begun
        if np.max(np.abs(found.fun)) < 1e-9:
            return found.x, seconds, method
        start = found.x
    return None


def main(path):
    with open(path) as f:
        entries = json.load(f)
    groups, failed, ours, theirs = {}, 0, 0.0, 0.0
    for entry in entries:
        balance = Balance(entry["Network"], entry["State"])
        found = solve(balance)
        if found is None:
            failed += 1
            continue
        pressure, seconds, method = found
        mine = np.array(entry["Pressure"])
        apart = np.max(np.abs(mine - pressure)) / max(np.max(np.abs(pressure)), 1e-3)
        group = groups.setdefault(entry["Name"], [0, 0.0, 0.0, 0.0, {}])
        group[0] += 1
        group[1] = max(group[1], apart)
        group[2] += entry["Seconds"]
        group[3] += seconds
        group[4][method] = group[4].get(method, 0) + 1
        ours, theirs = ours + entry["Seconds"], theirs + seconds
    for name, (count, apart, mine, other, methods) in groups.items():
        how = ", ".join(f"{k} {v}" for k, v in methods.items())
        print(f"{name}: {count} networks, {apart:.2g} of the largest pressure apart at most;"
              f" ours {1e6 * mine / count:.1f} us, scipy {1e6 * other / count:.0f} us ({how}), ratio {other / mine:.0f}")
    worst = max(g[1] for g in groups.values())
    ratio = theirs / ours
    print(f"all: agreement {worst:.2g} (wanted {AGREE:g}), ratio {ratio:.0f} (wanted {FASTER:g}); scipy found no balance for {failed} of {len(entries)}")
    if worst > AGREE or ratio < FASTER or failed > len(entries) // 20:
        sys.exit(1)


main(sys.argv[1])
