"""Verify an exported job with nothing but the Python standard library: the hash chain and the attachments.

Usage: verify.py JOB.zip

The hash of an event is SHA-256 over the event without its member "hash", in the form of RFC 8785 (JSON Canonicalization Scheme).
"""
import hashlib
import json
import sys
import zipfile


def number(x):
    """Number::toString of ECMAScript for a double, from the shortest digits that Python's repr gives."""
    if x == 0:
        return "0"
    sign = "-" if x < 0 else ""
    mantissa, _, exponent = repr(abs(x)).partition("e")
    whole, _, part = mantissa.partition(".")
    digits = (whole + part).lstrip("0")
    leading = len(whole + part) - len(digits)
    point = len(whole) - leading + int(exponent or 0)  # value is 0.digits times ten to the power of point
    digits = digits.rstrip("0")
    k = len(digits)
    if k <= point <= 21:
        return sign + digits + "0" * (point - k)
    if 0 < point <= 21:
        return sign + digits[:point] + "." + digits[point:]
    if -6 < point <= 0:
        return sign + "0." + "0" * -point + digits
    e = point - 1
    return sign + digits[0] + ("." + digits[1:] if k > 1 else "") + "e" + ("+" if e > 0 else "-") + str(abs(e))


def canonical(v):
    if isinstance(v, bool) or v is None or isinstance(v, str):
        return json.dumps(v, ensure_ascii=False)
    if isinstance(v, (int, float)):
        return number(float(v))
    if isinstance(v, list):
        return "[" + ",".join(map(canonical, v)) + "]"
    keys = sorted(v, key=lambda k: k.encode("utf-16-be"))
    return "{" + ",".join(json.dumps(k, ensure_ascii=False) + ":" + canonical(v[k]) for k in keys) + "}"


def main(path):
    z = zipfile.ZipFile(path)
    doc = json.loads(z.read("job.json"))
    last, files = "0" * 64, {}
    for i, e in enumerate(doc["events"], 1):
        given = e.pop("hash")
        if e["prev"] != last or e["version"] != i or e["job"] != doc["job"]:
            sys.exit(f"event {i}: does not link to the one before")
        if hashlib.sha256(canonical(e).encode()).hexdigest() != given:
            sys.exit(f"event {i}: content does not fit its hash")
        if e["kind"] == "attachment.added":
            files[e["payload"]["sha256"]] = e["payload"]["size"]
        last = given
    for sha, size in files.items():
        content = z.read("files/" + sha)
        if hashlib.sha256(content).hexdigest() != sha or len(content) != size:
            sys.exit(f"file {sha}: content does not fit its hash")
    print(f"{len(doc['events'])} events and {len(files)} files are sound")


main(sys.argv[1])
