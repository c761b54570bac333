"""Lists what a program of Go was made of, in the form of CycloneDX 1.5, from what the Go tool wrote into it.

Usage: sbom.py PROGRAM. No time and no random number: the same program gives the same bytes.
"""
import hashlib
import json
import subprocess
import sys


def module(fields):
    path, version = fields[0], fields[1]
    out = {"type": "library", "bom-ref": f"pkg:golang/{path}@{version}", "name": path, "version": version,
           "purl": f"pkg:golang/{path}@{version}"}
    if len(fields) > 2 and fields[2]:  # h1: of the module's files, as in go.sum
        out["properties"] = [{"name": "go.sum", "value": fields[2]}]
    return out


def main(program):
    lines = subprocess.run(["go", "version", "-m", program], check=True, capture_output=True, text=True).stdout.splitlines()
    goes = lines[0].rsplit(" ", 1)[1]
    with open(program, "rb") as f:
        digest = hashlib.sha256(f.read()).hexdigest()
    parts = [line.strip("\t").split("\t") for line in lines[1:]]
    settings = dict(p[1].split("=", 1) for p in parts if p[0] == "build")
    main_module = next(p for p in parts if p[0] == "mod")
    about = {"type": "application", "bom-ref": "phasewright", "name": main_module[1],
             "version": sys.argv[2] if len(sys.argv) > 2 else main_module[2],
             "hashes": [{"alg": "SHA-256", "content": digest}],
             "licenses": [{"license": {"id": "Apache-2.0"}}],
             "properties": [{"name": k, "value": v} for k, v in sorted(settings.items()) if v]}
    modules = [module(p[1:]) for p in parts if p[0] == "dep"] + [module(["std", goes.removeprefix("go")])]
    print(json.dumps({"bomFormat": "CycloneDX", "specVersion": "1.5", "version": 1, "metadata": {"component": about},
                      "components": modules,
                      "dependencies": [{"ref": "phasewright", "dependsOn": [m["bom-ref"] for m in modules]}]}, indent=1))


main(sys.argv[1])
