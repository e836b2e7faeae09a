"""Holds a PROV-JSON document against what its schema asks (The PROV-JSON Serialization, W3C Member Submission of 24 April
2013, section 2 and the schema named there), restated here, and reads it with the standard PROV library.

Usage: record.py FILE
"""
import datetime
import json
import re
import sys

import prov.model

# of each part: the members that a record must have, and those that it may have beside attributes of its own
PARTS = {
    "entity": ([], []), "agent": ([], []), "activity": ([], ["prov:startTime", "prov:endTime"]),
    "wasGeneratedBy": (["prov:entity"], ["prov:activity", "prov:time"]),
    "used": (["prov:entity"], ["prov:activity", "prov:time"]),
    "wasInformedBy": (["prov:informant", "prov:informed"], []),
    "wasStartedBy": (["prov:activity"], ["prov:time", "prov:trigger"]),
    "wasEndedBy": (["prov:activity"], ["prov:time", "prov:trigger"]),
    "wasInvalidatedBy": (["prov:entity"], ["prov:activity", "prov:time"]),
    "wasDerivedFrom": (["prov:generatedEntity", "prov:usedEntity"], ["prov:activity", "prov:generation", "prov:usage"]),
    "wasAttributedTo": (["prov:entity", "prov:agent"], []),
    "wasAssociatedWith": (["prov:activity"], ["prov:agent", "prov:plan"]),
    "actedOnBehalfOf": (["prov:delegate", "prov:responsible"], ["prov:activity"]),
    "wasInfluencedBy": (["prov:influencer", "prov:influencee"], []),
    "specializationOf": (["prov:generalEntity", "prov:specificEntity"], []),
    "alternateOf": (["prov:alternate1", "prov:alternate2"], []),
    "hadMember": (["prov:collection", "prov:entity"], []),
}
faults = []
document = json.load(open(sys.argv[1], encoding="utf-8"))
prefixes = document.get("prefix", {})


def attribute(where, value):
    """A plain value, a typed one, or a list of these that is not empty."""
    if isinstance(value, list):
        if not value:
            faults.append(f"{where}: an empty list")
        for v in value:
            if isinstance(v, list):
                faults.append(f"{where}: a list in a list")
            attribute(where, v)
    elif isinstance(value, dict):
        if not isinstance(value.get("$"), str) or set(value) - {"$", "type", "lang"}:
            faults.append(f"{where}: no typed value: {value}")
    elif not isinstance(value, (str, int, float, bool)):
        faults.append(f"{where}: {value!r}")


def name(where, text):
    """A qualified name whose prefix is declared, or a blank one."""
    if not isinstance(text, str) or not (text.startswith("_:") or text.split(":")[0] in prefixes):
        faults.append(f"{where}: no name with a declared prefix: {text!r}")


for prefix, address in prefixes.items():
    if not re.fullmatch(r"[a-zA-Z0-9_-]+", prefix) or not re.match(r"[a-z]+:", address):
        faults.append(f"prefix {prefix}: {address}")
for part, records in document.items():
    if part == "prefix":
        continue
    if part not in PARTS:
        faults.append(f"{part}: no part of PROV-JSON")
        continue
    must, may = PARTS[part]
    for key, record in records.items():
        where = f"{part} {key}"
        name(where, key)
        for m in must:
            if m not in record:
                faults.append(f"{where}: no {m}")
        for member, value in record.items():
            name(f"{where}: {member}", member)
            if member.endswith(("Time", ":time")) and member in may:
                try:
                    datetime.datetime.fromisoformat(value.replace("Z", "+00:00"))
                except (AttributeError, ValueError):
                    faults.append(f"{where}: {member}: no date and time: {value!r}")
            elif member in must + may:
                name(f"{where}: {member}", value)
            else:
                attribute(f"{where}: {member}", value)
for part, kinds in (("used", {"prov:entity": "entity", "prov:activity": "activity"}),
                    ("wasGeneratedBy", {"prov:entity": "entity", "prov:activity": "activity"}),
                    ("wasDerivedFrom", {"prov:generatedEntity": "entity", "prov:usedEntity": "entity"})):
    for key, record in document.get(part, {}).items():
        for member, kind in kinds.items():
            if record.get(member) not in document[kind]:
                faults.append(f"{part} {key}: {member} {record.get(member)} is no {kind} of the document")
if not faults:
    read = prov.model.ProvDocument.deserialize(source=sys.argv[1], format="json")
    print("valid,", len(read.records), "records")
for f in faults[:20]:
    print(f)
sys.exit(len(faults) > 0)
