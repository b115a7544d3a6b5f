"""The outside judge of package lsq: solves the problems in problems.json with
SciPy and prints the answers as JSON. `scipy.json` beside it is what it printed;
see TestSciPy."""
import json, sys
import numpy as np
from scipy.optimize import least_squares, lsq_linear

K, C = 1.345, 4.685


def tukey(z):
    inside = z < 1
    rho = np.empty((3, len(z)))
    rho[0] = np.where(inside, (1 - (1 - z) ** 3) / 3, 1 / 3)
    rho[1] = np.where(inside, (1 - z) ** 2, 0)
    rho[2] = np.where(inside, -2 * (1 - z), 0)
    return rho


answers = {}
for name, p in sorted(json.load(open(sys.argv[1])).items()):
    y = np.array(p["y"])
    w = np.sqrt(np.array(p.get("weight") or [1.0] * len(y)))
    X = np.array(p["x"]).reshape(len(y), p["columns"]) * w[:, None]
    y = y * w
    extra = []
    for q in p.get("penalty") or []:
        row = np.zeros(p["columns"])
        row[q["columns"]] = q["factors"]
        extra.append((row * np.sqrt(q["weight"]), q["value"] * np.sqrt(q["weight"])))
    A = np.vstack([X] + [[r] for r, _ in extra])
    b = np.concatenate([y, [v for _, v in extra]])
    plain = lsq_linear(A, b, method="bvls", tol=1e-14)
    answers[name] = {"squares": list(plain.x)}
    if extra:
        continue
    # least_squares scales the Jacobian in place: hand it a copy.
    f = lambda c: X @ c - y
    huber = least_squares(f, plain.x, jac=lambda c: X.copy(), loss="huber", f_scale=K * p["scale"],
                          xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale="jac", max_nfev=2000)
    bisquare = least_squares(f, huber.x, jac=lambda c: X.copy(), loss=tukey, f_scale=C * p["scale"],
                             xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale="jac", max_nfev=2000)
    answers[name]["huber"] = list(huber.x)
    answers[name]["bisquare"] = list(bisquare.x)
json.dump(answers, sys.stdout, indent=1)
print()
