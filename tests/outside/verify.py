"""Checks a shop by its contract alone: seals, ledgers and the digests that they state. Standard library only."""
import hashlib, json, pathlib, sys
from decimal import Decimal


def canonical(x):  # RFC 8785
    if isinstance(x, dict):
        keys = sorted(x, key=lambda k: k.encode("utf-16-be"))
        return "{" + ",".join(canonical(k) + ":" + canonical(x[k]) for k in keys) + "}"
    if isinstance(x, list):
        return "[" + ",".join(map(canonical, x)) + "]"
    if isinstance(x, float) and x == int(x) and abs(x) < 1e21:
        return str(int(x))
    if isinstance(x, float):
        return format(Decimal(repr(x)), "f") if 1e-6 <= abs(x) < 1e21 else repr(x).replace("e-0", "e-")
    return json.dumps(x, ensure_ascii=False)


def digest(data):
    return "sha256:" + hashlib.sha256(data if isinstance(data, bytes) else canonical(data).encode()).hexdigest()


def holds(path, files):  # a record or an amendment: its seal, and its file as a ledger states it
    body = json.loads(path.read_bytes())
    return body.pop("seal")["digest"] == digest(body) and digest(path.read_bytes()) in files.get(path.stem, [])


def ledger(path, stated):  # the lines' own digests and links; what they state goes into `stated`
    last, good = None, path.read_bytes().endswith(b"\n")
    for number, line in enumerate(path.read_bytes().splitlines(), 1):
        whole = json.loads(line)
        body = {k: v for k, v in whole.items() if k != "entry"}
        good &= whole["entry"] == digest(body) and line == canonical(whole).encode()
        good &= whole["previous"] == last and whole["number"] == number
        last, act = whole["entry"], whole["act"]
        name = act.get("amendment") or act.get("record") or act["digest"].removeprefix("sha256:")
        stated.setdefault(name, []).append(act.get("file") or act["digest"])
    return good


shop, stated, bad = pathlib.Path(sys.argv[1]), {}, []
sealed = sorted([*shop.glob("records/*/*.json"), *shop.glob("amendments/*/*.json")])
texts = sorted(shop.glob("approved/*.yaml"))
checks = [(p, ledger, stated) for p in sorted([*shop.glob("records/ledger-*.jsonl"), *shop.glob("approvals-*.jsonl")])]
checks += [(p, holds, stated) for p in sealed]
checks += [(p, lambda p, s: digest(p.read_bytes()) in s.get(p.stem, []), stated) for p in texts]
for path, check, known in checks:
    try:
        good = check(path, known)
    except (ValueError, KeyError, TypeError, AttributeError):
        good = False
    bad += [] if good else [path]
bad += [shop / name for name in stated.keys() - {p.stem for p in sealed + texts}]
print("\n".join(map(str, bad)) or "good")
sys.exit(1 if bad else 0)
