// Arguments and a browser -> pages of bundles, opened from disk with the network off, and what went wrong on them.

import {createRequire} from "node:module";
import {join, resolve} from "node:path";
import {pathToFileURL} from "node:url";

// Arguments: options with a value, those that may be left out, switches, and the bundles.
export function read(given, needed, options, switches) {
  const told = {bundles: []};
  for (let at = 0; at < given.length; at += 1) {
    const name = given[at].replace(/^--/, "");
    if (!given[at].startsWith("--")) {
      told.bundles.push(resolve(given[at]));
    } else if (switches.includes(name)) {
      told[name] = true;
    } else if ([...needed, ...options].includes(name) && given[at + 1] !== undefined) {
      told[name] = given[at += 1];
    } else {
      throw new Error(`not understood: ${given[at]}`);
    }
  }
  const missing = needed.filter((name) => told[name] === undefined);
  if (missing.length > 0 || told.bundles.length === 0) {
    throw new Error(`missing: ${missing.map((name) => `--${name}`).join(", ") || "a bundle"}`);
  }
  return told;
}

// The packages of a folder that npm installed into.
export function packages(folder) {
  return createRequire(join(resolve(folder), "package.json"));
}

export async function launch(modules, executablePath) {
  const {chromium} = packages(modules)("playwright-core");
  // a few pages are printed in a container with little shared memory
  return chromium.launch({executablePath, args: ["--no-sandbox", "--disable-dev-shm-usage"]});
}

// A page of its own for one bundle: nothing that another one keeps is seen by it. `faults` fills as it lives.
export async function open(browser, bundle, more = {}) {
  const context = await browser.newContext({viewport: {width: 1280, height: 900}, offline: true, ...more});
  const page = await context.newPage();
  const address = pathToFileURL(join(bundle, "runbook.html")).href;
  const faults = [];
  page.on("request", (request) => {
    const asked = request.url();
    if (asked.split("#")[0] !== address && !asked.startsWith("data:")) {
      faults.push(`the page asks for ${asked.slice(0, 120)}`);
    }
  });
  page.on("pageerror", (error) => faults.push(`the script fails: ${error.message}`));
  page.on("console", (message) => {
    if (message.type() === "error") {
      faults.push(`the console says: ${message.text().slice(0, 200)}`);
    }
  });
  await page.goto(address);
  return {page, context, faults};
}

// Every part that is folded, unfolded.
export async function unfold(page) {
  await page.evaluate(() => document.querySelectorAll("details").forEach((one) => { one.open = true; }));
}

// Loads the page anew, as a person does: after what was kept has reached the browser. On a busy machine that takes a
// moment, and the browser's lateness is no fault of the page.
export async function reloaded(page) {
  const kept = () => page.evaluate(() => JSON.stringify(Object.entries(localStorage).sort()));
  const before = await kept();
  for (let turn = 0; turn < 5; turn += 1) {
    await page.waitForTimeout(400 + 250 * turn);
    await page.reload();
    if (await kept() === before) {
      return;
    }
  }
}
