"""Cranking reference: reads one line of JSON, writes mean, least and greatest speed (rpm) over the last cycle as JSON.

Keys: bore stroke rod (m), ratio, inertia (kg.m2, all that turns), mass (kg per cylinder), inlet ambient (Pa), kc ke, closes opens (deg after/before
bottom dead centre), friction0 (N.m), friction1 (N.m per rad/s), stall (N.m), free (rad/s), tdc (list of deg), cycles (how many are turned).
"""
import json, sys
import numpy as np
from scipy.integrate import solve_ivp

q = json.loads(sys.stdin.read())
r, l = q["stroke"] / 2, q["rod"]
A = np.pi * q["bore"] ** 2 / 4


def x(a):  # travel from TDC
    return r + l - (r * np.cos(a) + np.sqrt(l * l - (r * np.sin(a)) ** 2))


def d(f, a, h=1e-5):
    return (f(a + h) - f(a - h)) / (2 * h)


vc = A * 2 * r / (q["ratio"] - 1)
V = lambda deg: vc + A * x(np.radians(deg))
ivc, evo = -180 + q["closes"], 180 - q["opens"]


def p(deg):  # deg in -360..360, an array
    top = q["inlet"] * (V(ivc) / vc) ** q["kc"]
    end = top * (vc / V(evo)) ** q["ke"]
    down = q["ambient"] + (end - q["ambient"]) * (1 + np.cos(np.pi * (deg - evo) / 40)) / 2
    return np.select(
        [deg < ivc, deg <= 0, deg <= evo, deg < evo + 40],
        [q["inlet"], q["inlet"] * (V(ivc) / V(deg)) ** q["kc"], top * (vc / V(deg)) ** q["ke"], down],
        q["ambient"],
    )


tdc = np.array(q["tdc"])


def wrapped(th):
    return (np.degrees(th) - tdc + 360) % 720 - 360


def inertia(th):
    return q["inertia"] + q["mass"] * np.sum(d(x, np.radians(wrapped(th))) ** 2)


def torque(th):
    return np.sum((p(wrapped(th)) - q["ambient"]) * A * d(x, np.radians(wrapped(th))))


def f(t, y):
    th, w = y
    start = max(q["stall"] * (1 - w / q["free"]), 0)
    T = torque(th) + start - q["friction0"] - q["friction1"] * w
    return [w, (T - 0.5 * d(inertia, th, 1e-4) * w * w) / inertia(th)]


w0 = 0.6 * q["free"]
cycles = q["cycles"]
ends = [(lambda t, y, n=n: y[0] - 4 * np.pi * n) for n in (cycles - 1, cycles)]
ends[1].terminal = True
s = solve_ivp(f, (0, 60), [0.0, w0], method="LSODA", rtol=1e-8, atol=1e-9, events=ends, dense_output=True, max_step=2e-3)
t0, t1 = s.t_events[0][0], s.t_events[1][0]
w = s.sol(np.linspace(t0, t1, 20001))[1] * 30 / np.pi
print(json.dumps({"mean": 120 / (t1 - t0), "least": float(w.min()), "most": float(w.max())}))
