// The published schemas by the library ajv (https://ajv.js.org), files read with js-yaml. Both are
// installed under target/node by tests/run.
//
//     node validate.mjs SCHEMAS LIST
//
// As validate.py: the meta-schema of 2020-12 holds each schema; one line `valid` or `invalid` a file.

import {readdirSync, readFileSync} from "node:fs";
import {createRequire} from "node:module";
import {join} from "node:path";

const require = createRequire(new URL("../../target/node/", import.meta.url));
const {default: Ajv} = require("ajv/dist/2020");
const yaml = require("js-yaml");

// A file without a document holds null, as YAML says; this library throws.
function tree(text) {
  const documents = yaml.loadAll(text, {schema: yaml.CORE_SCHEMA});
  return documents.length === 0 ? null : documents[0];
}

const [folder, listed] = process.argv.slice(2);
const ajv = new Ajv({strict: true, allowUnionTypes: true, strictTypes: false, strictTuples: false});
const validators = {};
for (const name of readdirSync(folder).filter((name) => name.endsWith(".schema.json"))) {
  const schema = JSON.parse(readFileSync(join(folder, name), "utf8"));
  if (!ajv.validateSchema(schema)) {
    throw new Error(`${name}: ${ajv.errorsText()}`);
  }
  validators[name] = ajv.compile(schema);
}
for (const line of readFileSync(listed, "utf8").split("\n").filter((line) => line !== "")) {
  const {file, schema} = JSON.parse(line);
  const text = readFileSync(file, "utf8");
  const value = file.endsWith(".json") ? JSON.parse(text) : tree(text);
  console.log(validators[schema](value) ? "valid" : "invalid");
}
