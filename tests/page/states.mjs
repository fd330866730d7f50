// Bundles and the situations that the second judge tells -> where a page shows the stack otherwise than it is.
//
//     node states.mjs --modules DIR --chromium PATH --states STATES.json [--self-test] BUNDLE...
//
// STATES.json is what states.py prints for the plans of these bundles. The page is stepped through as a person would do
// it, and what its picture holds after each step is compared, value by value. With --self-test the first bundle's page
// is given with mistakes in its picture, each of which must be found.

import {readFileSync} from "node:fs";
import {join, resolve} from "node:path";

import {launch, open, read} from "./browser.mjs";
import {mistakesOfPicture} from "./mistakes.mjs";

// What the picture holds before the first step and after each.
function walked(page) {
  return page.evaluate(() => {
    const panel = document.getElementById("now");
    const all = (what) => Array.from(panel.querySelectorAll(what));
    const data = (one) => {
      const texts = Array.from(one.querySelectorAll("[class*='t-']")).filter((text) => text.closest("[data-key]") === one);
      const shown = Object.fromEntries(texts.map((text) => [text.classList[text.classList.contains("end") ? 1 : 0], text.textContent]));
      return {...one.dataset, shown};
    };
    const look = () => ({
      units: all("[data-unit]").map(data), cables: all("[data-cable]").map(data), legs: all("[data-leg]").map(data),
      stack: data(panel.querySelector("[data-key=stack]")),
    });
    const seen = [look()];
    for (let next = document.getElementById("next"); !next.disabled;) {
      next.click();
      seen.push(look());
    }
    return seen;
  });
}

const sorted = (ends) => ends.split(" ").sort().join(" ");

// The same as a situation of the second judge names it.
function situation({units, cables, legs, stack}) {
  const together = (unit) => units.filter(({island}) => island !== "" && island === unit.island).map((one) => one.unit);
  const end = (cable, side) => [cable.cable.split(" ")[side === "upper" ? 0 : 1],
    {side: cable[`${side}Side`], active: cable[`${side}Active`], enabled: cable[`${side}Enabled`]}];
  return {
    units: Object.fromEntries(units.map((unit) => [unit.unit, {...unit, together: together(unit).sort()}])),
    cables: Object.fromEntries(cables.map((cable) =>
      [sorted(cable.cable), {...cable, ends: Object.fromEntries([end(cable, "upper"), end(cable, "lower")])}])),
    legs: Object.fromEntries(legs.map((leg) => [`${leg.uplink} ${leg.leg}`, leg])),
    protected: stack.protected,
  };
}

// Every value of `wanted` that `seen` has otherwise; of objects, keys that only one of them has too.
function differences(wanted, seen, where, faults) {
  if (wanted === null || typeof wanted !== "object" || Array.isArray(wanted)) {
    if (JSON.stringify(wanted) !== JSON.stringify(seen)) {
      faults.push(`${where} is ${JSON.stringify(wanted)}, and the page shows ${JSON.stringify(seen)}`);
    }
    return;
  }
  for (const [name, value] of Object.entries(wanted)) {
    differences(value, seen?.[name], `${where} ${name}`.trim(), faults);
  }
}

// What people read must say what programs read.
function unread(seen) {
  const faults = [];
  for (const {unit, power, role, id, priority, shown} of seen.units) {
    const numbers = new Set(shown["t-numbers"].match(/\d+/g));
    if (shown["t-role"] !== role || (power === "on" && !(numbers.has(id) && numbers.has(priority)))) {
      faults.push(`the words at ${unit} say other than its data`);
    }
  }
  return faults;
}

async function faultsOf(browser, bundle, situations) {
  const {page, context, faults} = await open(browser, bundle);
  const seen = await walked(page);
  await context.close();
  if (seen.length !== situations.length) {
    return [...faults, `the page has ${seen.length - 1} steps, and the plan ${situations.length - 1}`];
  }
  const words = new Map();
  for (const [step, wanted] of situations.entries()) {
    const found = [];
    const shown = situation(seen[step]);
    differences(wanted, shown, "", found);
    for (const kind of ["units", "cables", "legs"]) {
      const more = Object.keys(shown[kind]).filter((name) => !(name in wanted[kind]));
      found.push(...more.map((name) => `${name} is in the picture alone`));
    }
    found.push(...unread(seen[step]));
    seen[step].cables.forEach(({link, plugged, shown: {"t-word": word}}) => words.set(word, `${link} ${plugged}`));
    faults.push(...found.map((fault) => `after step ${step}: ${fault}`));
  }
  if (new Set(words.values()).size > words.size) {
    faults.push("two kinds of links read the same");
  }
  return faults;
}

async function check(browser, bundles, states) {
  let wrong = 0;
  for (const bundle of bundles) {
    const faults = await faultsOf(browser, bundle, states[join(bundle, "plan.json")]);
    faults.slice(0, 20).forEach((fault) => console.log(`${bundle}: ${fault}`));
    wrong += faults.length;
  }
  console.error(`${bundles.length} pages, ${wrong} faults`);
  return wrong === 0;
}

async function tryItself(browser, bundle, states) {
  let missed = 0;
  const situations = states[join(bundle, "plan.json")];
  for (const {what, at} of mistakesOfPicture(bundle)) {
    const [found] = await faultsOf(browser, at, situations);
    console.error(`${what}: ${found ?? "not found"}`);
    missed += found === undefined ? 1 : 0;
  }
  return missed === 0;
}

const given = read(process.argv.slice(2), ["modules", "chromium", "states"], [], ["self-test"]);
const told = JSON.parse(readFileSync(given.states, "utf8"));
const states = Object.fromEntries(Object.entries(told).map(([path, one]) => [resolve(path), one]));
const unknown = given.bundles.filter((bundle) => states[join(bundle, "plan.json")] === undefined);
if (unknown.length > 0) {
  throw new Error(`nothing is told of the plan of ${unknown[0]}`);
}
const browser = await launch(given.modules, given.chromium);
const fine = await (given["self-test"] ? tryItself(browser, given.bundles[0], states) : check(browser, given.bundles, states));
await browser.close();
process.exit(fine ? 0 : 1);
