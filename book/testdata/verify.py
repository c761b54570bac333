"""Verify an exported job with nothing but the Python standard library: the hash chain and the attachments.

Usage: verify.py JOB.zip

The hash of an event is SHA-256 over the event without its members "hash" and "personal", in the form of RFC 8785 (JSON
Canonicalization Scheme). A personal value is kept beside its event; in the payload stands {"sealed": SHA-256 of salt and value}.
An event of a release that did not seal says "clear": its hash was taken with the values in their places, so that it cannot be
made anew once they are erased. Its links are verified all the same.
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


def place(payload, path):
    """What holds a value, and under which key: a JSON Pointer."""
    *way, last = [int(p) if p.isdigit() else p for p in path[1:].split("/")]
    for p in way:
        payload = payload[p]
    return payload, last


def opened(i, payload, personal):
    """Checks every commitment and puts the values in their places, None if one of them was erased."""
    for p in personal:
        holder, key = place(payload, p["path"])
        if "erased" not in p:
            salted = bytes.fromhex(p["salt"]) + p.get("value", "").encode()
            if hashlib.sha256(salted).hexdigest() != holder[key]["sealed"]:
                sys.exit(f"event {i}: a personal value does not fit its commitment")
    if any("erased" in p for p in personal):
        return None
    for p in personal:
        holder, key = place(payload, p["path"])
        holder[key] = p.get("value", "")
    return {k: "".join(v["parts"]) if any(p["path"].startswith(f"/{k}/parts/") for p in personal) else v
            for k, v in payload.items()}


def main(path):
    z = zipfile.ZipFile(path)
    doc = json.loads(z.read("job.json"))
    last, files, unprovable = "0" * 64, {}, 0
    for i, e in enumerate(doc["events"], 1):
        given, personal = e.pop("hash"), e.pop("personal", [])
        if e["prev"] != last or e["version"] != i or e["job"] != doc["job"]:
            sys.exit(f"event {i}: does not link to the one before")
        plain = opened(i, json.loads(json.dumps(e["payload"])), personal)
        if any(p.get("clear") for p in personal):
            e["payload"] = plain
        if e["payload"] is None:
            unprovable += 1
        elif hashlib.sha256(canonical(e).encode()).hexdigest() != given:
            sys.exit(f"event {i}: content does not fit its hash")
        if e["kind"] == "attachment.added":
            files[e["payload"]["sha256"]] = e["payload"]["size"]
        if e["kind"] == "attachment.discarded":
            files.pop(e["payload"]["sha256"], None)
        last = given
    for sha, size in files.items():
        content = z.read("files/" + sha)
        if hashlib.sha256(content).hexdigest() != sha or len(content) != size:
            sys.exit(f"file {sha}: content does not fit its hash")
    print(f"{len(doc['events'])} events and {len(files)} files are sound")
    if unprovable:
        print(f"{unprovable} events were hashed with a name that is erased now: only their links are verified")


main(sys.argv[1])
