"""Recomputes the uncertainties in records of `volumetric-weighed` from their entries and instruments alone.

The model is written out here once more and run on two packages from PyPI that find the derivatives themselves:
`uncertainties` for standard uncertainties, `GTC` for these again and for the effective degrees of freedom; k is scipy's t.
Formulas: Tanaka et al. 2001 (coefficients as in chempy), CIPM-2007 (Picard et al. 2008, from memory), buoyancy as in
ISO 8655-6; JCGM 100:2008, 4.2, 4.3.7, F.2.2.1, G.4.1; ILAC-G8:09/2019, 4.2; JCGM 106:2012, 7.2 to 7.4.
Settings are those of the recipe, written out again. Usage: uncertainty.py RECORD...
"""
import json
import math
import re
import sys

import GTC
import uncertainties
from scipy import stats
from uncertainties import umath

ALIKE = 1e-9
WORST = {"value": 0.0, "standard": 0.0, "gtc": 0.0, "k": 0.0, "expanded": 0.0, "conformance": 0.0}
SEEN = {"steps": 0, "limits": 0, "verdicts": 0}


class ByUncertainties:
    """Numbers of the package `uncertainties`."""

    exp, sqrt = staticmethod(umath.exp), staticmethod(umath.sqrt)

    @staticmethod
    def error(u):
        return uncertainties.ufloat(0.0, u)

    @staticmethod
    def errors(standards, freedom):
        return [uncertainties.ufloat(0.0, u) for u in standards]

    @staticmethod
    def value(x):
        return uncertainties.nominal_value(x)

    @staticmethod
    def standard(x):
        return uncertainties.std_dev(x)


class ByGtc:
    """Numbers of the package `GTC`; the errors of one series are an ensemble, whose estimate is one."""

    exp, sqrt = staticmethod(GTC.exp), staticmethod(GTC.sqrt)

    @staticmethod
    def error(u):
        return GTC.ureal(0.0, u)

    @staticmethod
    def errors(standards, freedom):
        return GTC.multiple_ureal([0.0] * len(standards), standards, freedom)

    @staticmethod
    def value(x):
        return GTC.value(x)

    @staticmethod
    def standard(x):
        return GTC.uncertainty(x)


def water_density(t):
    a1, a2, a3, a4, a5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950
    return a5 * (1 - (t + a1) * (t + a1) * (t + a2) / (a3 * (t + a4)))


def air_density(t, p_hpa, rh_percent, exp):
    p, h, kelvin = p_hpa * 100, rh_percent / 100, t + 273.15
    saturation = exp(1.2378847e-5 * kelvin * kelvin - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t * t
    x = h * enhancement * saturation / p
    first = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t + (5.707e-6 - 2.051e-8 * t) * x
    first = first + (1.9898e-4 - 2.376e-6 * t) * x * x
    z = 1 - p / kelvin * first + p * p / (kelvin * kelvin) * (1.83e-11 - 0.765e-8 * x * x)
    dry, vapour, gas = 28.96546e-3, 18.01528e-3, 8.314472
    return p * dry / (z * gas * kelvin) * (1 - x * (1 - vapour / dry))


def volume_per_gram(t, p, rh, exp):
    """mL of water that a balance shows as 1 g, adjusted with weights of 8000 kg/m3."""
    water, air = water_density(t), air_density(t, p, rh, exp)
    return 1000 / water * (1 - air / 8000) / (1 - air / water)


# The unit of each kind in which readings are taken here, and what others of it come to.
UNITS = {"g": 1.0, "K": 1.0, "hPa": 1.0, "%": 1.0, "s": 1.0, "min": 60.0, "h": 3600.0}


def amount(text):
    """`30 min 2.0 s` in s, `5.0132` as it stands."""
    parts = re.findall(r"(-?[0-9.]+)\s*([A-Za-z%]*)", text)
    return sum(float(number) * UNITS.get(unit, 1.0) for number, unit in parts)


class Bench:
    """The readings of a record with the errors of their instruments."""

    def __init__(self, record, by):
        self.by = by
        self.steps = {step["path"]: step for step in record["setup"] + record["steps"]}
        self.instruments = {i["id"]: i for i in record["instruments"].values()}
        self.calibrations = {}

    def readings(self, path, kind):
        entry = self.steps[path]["entry"]
        texts = entry if isinstance(entry, list) else [entry]
        return [self.with_instrument(amount(text), self.steps[path]["instrument"], kind) for text in texts]

    def reading(self, path, kind):
        return self.readings(path, kind)[0]

    def repeats(self, path, kind):
        """Each reading with a scatter of its own, all of one estimate: s with n - 1 degrees of freedom.

        Beside them their standard deviation: as known as s/sqrt(2(n - 1)) (JCGM 100:2008, E.4.3, from memory), of that
        same estimate, and apart from it as the instrument's errors make it.
        """
        readings = self.readings(path, kind)
        plain = [self.by.value(x) for x in readings]
        n, mean = len(plain), math.fsum(plain) / len(plain)
        s = math.sqrt(math.fsum((x - mean) ** 2 for x in plain) / (n - 1))
        *errors, of_s = self.by.errors([s] * n + [s / math.sqrt(2 * (n - 1))], n - 1)
        middle = sum(readings[1:], readings[0]) / n
        squares = [(x - middle) * (x - middle) for x in readings]
        spread = self.by.sqrt(sum(squares[1:], squares[0]) / (n - 1))
        return [x + e for x, e in zip(readings, errors)], spread + of_s

    def with_instrument(self, reading, instrument, kind):
        says = self.instruments[instrument]["measures"][kind]
        bound = 0.0
        for term in says["accuracy"].split("+"):
            number, unit = term.split()
            relative = unit == "%" and kind != "ratio"
            bound += float(number) * (abs(reading) / 100 if relative else UNITS[unit])
        u = bound / (float(says["k"]) if "k" in says else math.sqrt(3))
        # One error a calibration: of size 1 here, so that it is the same one at readings of different accuracy.
        calibration = self.calibrations.setdefault((instrument, kind), self.by.error(1.0))
        return reading + calibration * u + self.by.error(amount(says["resolution"]) / math.sqrt(12))


def model(record, by):
    """Values by path in the units of the record, and for each criterion what is held against which limits."""
    bench = Bench(record, by)
    v, judged = {}, {}
    v["head_height"] = float(bench.steps["head_height"]["entry"]) + by.error(0.25 / math.sqrt(12))
    t = v["conditions.water_temperature"] = bench.reading("conditions.water_temperature", "temperature")
    v["conditions.air_temperature"] = bench.reading("conditions.air_temperature", "temperature")
    p = v["conditions.air_pressure"] = bench.reading("conditions.air_pressure", "pressure")
    rh = v["conditions.humidity"] = bench.reading("conditions.humidity", "ratio")
    gram = v["conditions.volume_of_a_gram"] = volume_per_gram(t, p, rh, by.exp)
    before = v["blank.before"] = bench.reading("blank.before", "mass")
    v["blank.duration"] = bench.reading("blank.duration", "time")
    after = v["blank.after"] = bench.reading("blank.after", "mass")
    v["blank.evaporation"] = (before - after) / v["blank.duration"] * 3600
    for row, (rate, volume) in enumerate([(25, 5), (125, 10), (999, 20)], 1):
        at = f"accuracy.{row}."
        v[at + "tare"] = bench.reading(at + "tare", "mass")
        time = v[at + "run_time"] = bench.reading(at + "run_time", "time")
        v[at + "gross"] = bench.reading(at + "gross", "mass")
        v[at + "evaporated"] = v["blank.evaporation"] * time / 3600 * 1000
        v[at + "net"] = v[at + "gross"] - v[at + "tare"] + v[at + "evaporated"] / 1000
        v[at + "delivered"] = v[at + "net"] * gram
        v[at + "flow"] = v[at + "delivered"] / time * 3600
        v[at + "flow_error"] = (v[at + "flow"] - rate) / rate * 100
        judged[at + "delivered"] = (v[at + "delivered"], 0.95 * volume, 1.05 * volume)
        judged[at + "flow"] = (v[at + "flow"], 0.95 * rate, 1.05 * rate)
    rows = lambda name: [v[f"accuracy.{row}.{name}"] for row in (1, 2, 3)]
    largest, smallest = (lambda xs: max(xs, key=by.value)), (lambda xs: min(xs, key=by.value))
    v["evaporated_share"] = largest(rows("evaporated")) / smallest(rows("net")) / 1000 * 100
    mass, sd = bench.repeats("cycles.mass", "mass")
    v["cycles.mass"] = mass
    v["cycles.run_time"] = bench.reading("cycles.run_time", "time")
    mean = sum(mass[1:], mass[0]) / len(mass)
    v["cycles.mean_volume"] = (mean + v["blank.evaporation"] * v["cycles.run_time"] / 3600) * gram
    v["cycles.systematic_error"] = (v["cycles.mean_volume"] - 5) * 1000
    v["cycles.systematic_part"] = (v["cycles.mean_volume"] - 5) / 5 * 100
    v["cycles.random_error"] = sd * gram * 1000
    v["cycles.random_part"] = v["cycles.random_error"] / 1000 / v["cycles.mean_volume"] * 100

    judged["head_height"] = (v["head_height"], 19.0, 21.0)
    judged["conditions.water_temperature"] = (t, 17.0, 27.0)
    judged["conditions.air_temperature"] = (v["conditions.air_temperature"], t - 2.0, t + 2.0)
    judged["conditions.air_pressure"] = (p, 600.0, 1100.0)
    judged["conditions.humidity"] = (rh, 30.0, 80.0)
    judged["blank.duration"] = (v["blank.duration"], 1200.0, None)
    judged["blank.evaporation"] = (v["blank.evaporation"], -0.01, 0.10)
    judged["evaporated_share"] = (v["evaporated_share"], None, 1.0)
    errors = rows("flow_error")
    judged["rates_agree"] = (largest(errors) - smallest(errors), None, 3.0)
    judged["cycles.systematic_part"] = (v["cycles.systematic_part"], -4.0, 4.0)
    judged["cycles.random_part"] = (v["cycles.random_part"], None, 1.0)
    return v, judged


def alike(what, found, expected, where, scale=None):
    off = abs(found - expected) / (abs(expected) if scale is None else scale)
    WORST[what] = max(WORST[what], off)
    assert off <= ALIKE, f"{where}: {what} {found!r} in the record, {expected!r} here"


def coverage(by_gtc):
    """Degrees of freedom, truncated, and k for 95.45 %."""
    freedom = GTC.dof(by_gtc)
    if math.isinf(freedom):
        return math.inf, 2.0
    whole = math.floor(freedom * (1 + 1e-9))
    return whole, stats.t.ppf((1 + 0.9545) / 2, whole)


def hold_against(where, found, plain, by_gtc):
    u, again = ByUncertainties.standard(plain), ByGtc.standard(by_gtc)
    freedom, k = coverage(by_gtc)
    alike("standard", float(found["standard"]), u, where)
    alike("gtc", float(found["standard"]), again, where)
    alike("k", float(found["k"]), k, where)
    alike("expanded", float(found["expanded"]), k * u, where)
    stated = float(found["freedom"]) if "freedom" in found else math.inf
    assert stated == freedom, f"{where}: {stated} degrees of freedom in the record, {freedom} here"


def values_of(step):
    value = step["value"]
    return [float(v["value"]) for v in (value if isinstance(value, list) else [value])]


def hold_steps(steps, plain, by_gtc):
    for path, step in steps.items():
        told = step["uncertainty"]
        assert (told is not None) == (path in plain), f"{path}: the record says {told}"
        if told is None:
            continue
        as_list = lambda x: x if isinstance(x, list) else [x]
        rows = zip(values_of(step), as_list(told), as_list(plain[path]), as_list(by_gtc[path]), strict=True)
        for value, found, p, g in rows:
            # The difference of two masses may be small beside them.
            alike("value", value, ByUncertainties.value(p), path)
            hold_against(path, found, p, g)
            SEEN["steps"] += 1


def margin_band(inside, guard):
    if inside < 0:
        return "fail" if inside < -guard else "conditional fail"
    return "pass" if inside >= guard else "conditional pass"


ORDER = ["pass", "conditional pass", "conditional fail", "fail"]


def verdict(decision, plain, by_gtc):
    """ILAC-G8 with w = U of the distance to each limit, in which what value and limit share cancels."""
    worst = "pass"
    for end, sign in ((1, 1), (2, -1)):
        if plain[end] is None:
            continue
        distance, again = (sign * (side[0] - side[end]) for side in (plain, by_gtc))
        u = ByUncertainties.standard(distance)
        guard = 0.0 if decision == "simple" or u == 0 else coverage(again)[1] * u
        band = margin_band(ByUncertainties.value(distance), guard)
        worst = max(worst, band, key=ORDER.index)
    if decision == "guarded" and worst != "pass":
        return "fail"
    return worst


def conformance(plain, by_gtc):
    value, ends = plain[0], plain[1:]
    widest = max(
        ((ByUncertainties.standard(value - end), coverage(by_gtc[0] - e)[0]) for end, e in zip(ends, by_gtc[1:]) if end is not None)
    )
    u, freedom = widest
    below = lambda x: stats.norm.cdf(x) if math.isinf(freedom) else stats.t.cdf(x, freedom)
    distance = lambda end: ByUncertainties.value(end - value) / u
    high = below(distance(ends[1])) if ends[1] is not None else 1.0
    return high - (below(distance(ends[0])) if ends[0] is not None else 0.0)


def hold_judged(decision, steps, plain, by_gtc):
    verdicts = []
    for path, step in steps.items():
        for criterion in step["criteria"]:
            limits = [limit for limit in criterion["limits"] if "uncertainty" in limit]
            assert bool(limits) == (path in plain), f"{path}: {criterion['that']}"
            expected = "pass"
            if limits:
                (limit,) = limits
                hold_against(path + " (limit)", limit["uncertainty"], plain[path][0], by_gtc[path][0])
                alike("conformance", float(limit["conformance"]), conformance(plain[path], by_gtc[path]), path, 1.0)
                expected = verdict(decision, plain[path], by_gtc[path])
                SEEN["limits"] += 1
            assert criterion["verdict"] == expected, f"{path}: {criterion['verdict']}, here {expected}"
            SEEN["verdicts"] += 1
            verdicts.append((criterion["severity"], expected))
    return verdicts


def of_record(verdicts):
    if any(found in ("fail", "conditional fail") and severity != "minor" for severity, found in verdicts):
        return "fail"
    return "pass" if all(found == "pass" for _, found in verdicts) else "pass with remarks"


def main(paths):
    for path in paths:
        with open(path, encoding="utf-8") as file:
            record = json.load(file)
        steps = {step["path"]: step for step in record["setup"] + record["steps"]}
        plain, plain_judged = model(record, ByUncertainties)
        by_gtc, gtc_judged = model(record, ByGtc)
        hold_steps(steps, plain, by_gtc)
        verdicts = hold_judged(record["decision"], steps, plain_judged, gtc_judged)
        expected = of_record(verdicts)
        assert record["verdict"] == expected, f"{path}: {record['verdict']}, here {expected}"
        print(record["decision"], record["verdict"])
    print("largest differences:", json.dumps(WORST), "held:", json.dumps(SEEN), file=sys.stderr)


main(sys.argv[1:])
