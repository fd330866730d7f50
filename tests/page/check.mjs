// Bundles -> what is wrong with their pages, as somebody finds who uses them in a browser.
//
//     node check.mjs --modules DIR --chromium PATH [--self-test] [--checks NAME,NAME] BUNDLE...
//
// DIR is where npm has put playwright-core, axe-core and pdfjs-dist. One line a fault; exit status 1 if there is one.
// With --self-test each check is given pages with a mistake in them that it must find, made from the first bundle.

import {launch, open, read} from "./browser.mjs";
import * as doing from "./doing.mjs";
import * as looking from "./looking.mjs";
import {mistakes} from "./mistakes.mjs";

const CHECKS = {...doing, ...looking};
delete CHECKS.plan;

// The checks that load a page anew and look for what it has stored: on a busy machine a browser was seen to lose that.
const STORED = ["ticks", "filter", "values"];

// The faults that one check finds on the page of a bundle. A page that keeps nothing keeps nothing twice, too: a check
// of what the browser stores is made again on a page of its own before its fault counts, and that is said.
async function faultsOf(name, browser, bundle, modules) {
  const found = await lookedAt(name, browser, bundle, modules);
  if (found.length === 0 || !STORED.includes(name)) {
    return found;
  }
  const again = await lookedAt(name, browser, bundle, modules);
  if (again.length === 0) {
    console.error(`${bundle}: ${name}: found once, and not again: ${found[0]}`);
  }
  return again;
}

// The same, once; whatever went wrong on the page while it was used is a fault.
async function lookedAt(name, browser, bundle, modules) {
  const {page, context, faults} = await open(browser, bundle);
  try {
    const found = await CHECKS[name]({page, bundle, browser, modules});
    return [...found, ...faults];
  } catch (error) {
    return [...faults, `the check cannot be made: ${error.message.split("\n")[0]}`];
  } finally {
    await context.close();
  }
}

// Two bundles at a time: a browser waits more than it works.
async function check(browser, {bundles, modules, checks}) {
  const names = checks === undefined ? Object.keys(CHECKS) : checks.split(",");
  const left = [...bundles];
  let wrong = 0;
  const work = async () => {
    for (let bundle = left.shift(); bundle !== undefined; bundle = left.shift()) {
      for (const name of names) {
        for (const fault of await faultsOf(name, browser, bundle, modules)) {
          console.log(`${bundle}: ${name}: ${fault}`);
          wrong += 1;
        }
      }
    }
  };
  await Promise.all([work(), work()]);
  console.error(`${bundles.length} pages, ${names.length} checks each, ${wrong} faults`);
  return wrong === 0;
}

// Every mistake must be found by the check that is there for it, and every check must have one.
async function tryItself(browser, {bundles: [bundle], modules}) {
  const left = new Set(Object.keys(CHECKS));
  let missed = 0;
  for (const {name, what, at} of mistakes(bundle)) {
    const before = await faultsOf(name, browser, bundle, modules);
    const found = (await faultsOf(name, browser, at, modules)).filter((fault) => !before.includes(fault));
    left.delete(name);
    console.error(`${name}: ${what}: ${found[0] ?? "not found"}`);
    missed += found.length === 0 ? 1 : 0;
  }
  left.forEach((name) => console.error(`${name}: no mistake is made for it`));
  return missed + left.size === 0;
}

const given = read(process.argv.slice(2), ["modules", "chromium"], ["checks"], ["self-test"]);
const browser = await launch(given.modules, given.chromium);
const fine = await (given["self-test"] ? tryItself(browser, given) : check(browser, given));
await browser.close();
process.exit(fine ? 0 : 1);
