// What a person does with the page, and what must come of it: ticks, steps, copying, the filter, keys, values.
// Each check takes an opened page and its bundle and gives a list of faults.

import {readdirSync, readFileSync} from "node:fs";
import {join, relative} from "node:path";

import {reloaded, unfold} from "./browser.mjs";

export const plan = (bundle) => JSON.parse(readFileSync(join(bundle, "plan.json"), "utf8"));

// Ticks are there after a reload, and only those that were set.
export async function ticks({page}) {
  const faults = [];
  await unfold(page);
  const boxes = "input[type=checkbox]";
  const count = await page.locator(boxes).count();
  const wanted = [...new Set([0, Math.floor(count / 2), count - 1])];
  for (const index of wanted) {
    await page.locator(boxes).nth(index).check();
  }
  const before = await page.locator(boxes).evaluateAll((all) => all.map((box) => box.checked));
  await reloaded(page);
  const after = await page.locator(boxes).evaluateAll((all) => all.map((box) => box.checked));
  if (wanted.some((index) => !after[index])) {
    faults.push("a tick is gone after a reload");
  }
  if (JSON.stringify(before) !== JSON.stringify(after)) {
    faults.push("after a reload other boxes are ticked than before");
  }
  await unfold(page);
  for (const index of wanted) {
    await page.locator(boxes).nth(index).uncheck();
  }
  await reloaded(page);
  if (await page.locator(`${boxes}:checked`).count() > 0) {
    faults.push("a tick that was taken back is there again after a reload");
  }
  return faults;
}

// Forward to the end and back to the beginning: the picture moves, and comes back the same at every step.
export async function picture({page, bundle}) {
  const faults = [];
  const steps = plan(bundle).steps.length;
  const walk = (button) => page.evaluate(([id, count]) => {
    const seen = [];
    const look = () => seen.push(document.getElementById("now").innerHTML);
    look();
    for (let step = 0; step < count; step += 1) {
      document.getElementById(id).click();
      look();
    }
    return seen;
  }, [button, steps]);
  await page.click("#next");
  await page.click("#prev");
  const there = await walk("next");
  if (!await page.locator("#next").isDisabled()) {
    faults.push("after the last step there is still a next one");
  }
  const back = (await walk("prev")).reverse();
  const differing = there.findIndex((seen, step) => seen !== back[step]);
  if (differing >= 0) {
    faults.push(`on the way back the picture after step ${differing} is another`);
  }
  if (new Set(there).size < 2) {
    faults.push("the picture never changes");
  }
  return faults;
}

const texts = (folder) => readdirSync(folder, {recursive: true}).filter((path) => path.endsWith(".txt"));

// Presses every copy button; `caught` takes what would be on the clipboard.
const copied = (page, fallback) => page.evaluate(async (fallback) => {
  let caught = null;
  const clipboard = {writeText: async (text) => { caught = text; }};
  Object.defineProperty(navigator, "clipboard", {value: fallback ? undefined : clipboard, configurable: true});
  document.execCommand = (command) => {
    const field = document.activeElement;
    caught = command === "copy" ? field.value.slice(field.selectionStart, field.selectionEnd) : null;
    return caught !== null;
  };
  const found = [];
  let file = null;
  for (const button of document.querySelectorAll("button.copy")) {
    const path = button.parentNode.querySelector(".file code");
    file = path ? path.textContent : file;
    caught = null;
    button.click();
    await new Promise((done) => setTimeout(done, 0));
    found.push({name: button.getAttribute("aria-label"), path: path ? file : null, file, text: caught});
  }
  return found;
}, fallback);

// What is copied is the very text of a snippet file, or whole lines of it; each file can be copied.
export async function copying({page, bundle}) {
  const faults = [];
  for (const fallback of [false, true]) {
    const found = await copied(page, fallback);
    const way = fallback ? " where the page has no clipboard" : "";
    for (const {name, path, file, text} of found) {
      if (file === null) {
        faults.push(`"${name}" belongs to no file`);
        continue;
      }
      const whole = readFileSync(join(bundle, file), "utf8");
      const right = path === null ? `\n${whole}`.includes(`\n${text}\n`) && text !== "" : text === whole;
      if (!right) {
        faults.push(`"${name}" does not copy what stands in ${file}${way}`);
      }
    }
    const offered = new Set(found.map((one) => one.path));
    const left = texts(bundle).filter((path) => !offered.has(relative(bundle, join(bundle, path))));
    faults.push(...left.map((path) => `${path} cannot be copied${way}`));
  }
  return faults;
}

const place = (at) => (at.hands !== undefined ? "hands" : at.console !== undefined ? `console-${at.console}` : "stack");

// With each place chosen, the steps that show are those that the plan does there; the choice is kept.
export async function filter({page, bundle}) {
  const faults = [];
  const steps = plan(bundle).steps;
  const shown = () => page.evaluate(() => {
    document.querySelectorAll("details").forEach((one) => { one.open = true; });
    const all = Array.from(document.querySelectorAll(".step"));
    return all.flatMap((step, index) => (step.checkVisibility() ? [index + 1] : []));
  });
  const options = await page.locator("#place option").evaluateAll((all) => all.map((one) => one.value));
  const places = new Set(steps.map((step) => place(step.at)));
  for (const missing of [...places].filter((one) => !options.includes(one))) {
    faults.push(`the place ${missing} cannot be chosen`);
  }
  for (const option of options) {
    await page.selectOption("#place", option);
    const wanted = steps.filter((step) => option === "" || place(step.at) === option).map((step) => step.number);
    if (JSON.stringify(await shown()) !== JSON.stringify(wanted)) {
      faults.push(`with the place "${option}" other steps show than are done there`);
    }
  }
  await page.selectOption("#place", options.at(-1));
  await reloaded(page);
  if (await page.locator("#place").inputValue() !== options.at(-1)) {
    faults.push("the place that was chosen is gone after a reload");
  }
  await page.selectOption("#place", "");
  return faults;
}

const FOCUS = "a[href], button:not(:disabled), input, select, textarea, summary, [tabindex]";

// The tab key reaches all that can be used, each shows that it has the focus, and the keys work.
export async function keyboard({page}) {
  const faults = [];
  const wanted = await page.evaluate((what) => {
    const all = Array.from(document.querySelectorAll(what)).filter((one) => one.checkVisibility());
    all.forEach((one, index) => { one.dataset.tabbed = String(index); });
    document.activeElement.blur();
    scrollTo(0, 0);
    return all.length;
  }, FOCUS);
  const reached = new Set();
  for (let press = 0; press <= wanted; press += 1) {
    await page.keyboard.press("Tab");
    const seen = await page.evaluate(() => {
      const {dataset, tagName} = document.activeElement;
      const {outlineStyle, outlineWidth} = getComputedStyle(document.activeElement);
      return {mark: dataset.tabbed, tagName, shown: outlineStyle !== "none" && parseFloat(outlineWidth) >= 2};
    });
    if (seen.mark === undefined) {
      if (seen.tagName !== "BODY") {
        faults.push(`the tab key stops at <${seen.tagName.toLowerCase()}>, which nobody can use`);
      }
      break;
    }
    reached.add(seen.mark);
    if (!seen.shown) {
      faults.push(`nothing shows that <${seen.tagName.toLowerCase()}> has the focus`);
    }
  }
  if (reached.size < wanted) {
    faults.push(`the tab key reaches ${reached.size} of ${wanted} things that can be used`);
  }
  faults.push(...await keys(page));
  await reloaded(page);
  return [...new Set(faults)];
}

async function keys(page) {
  const faults = [];
  const where = () => page.locator("#where").textContent();
  const first = await where();
  await page.keyboard.press("ArrowRight");
  if (await where() === first) {
    faults.push("the right arrow key does not go to the next step");
  }
  await page.keyboard.press("ArrowLeft");
  if (await where() !== first) {
    faults.push("the left arrow key does not go back");
  }
  const box = page.locator(".step input").first();
  await box.focus();
  await page.keyboard.press("Space");
  if (!await box.isChecked()) {
    faults.push("the space key does not tick");
  }
  await page.keyboard.press("Space");
  const summary = page.locator(".move > summary").first();
  const opened = () => summary.evaluate((one) => one.parentNode.open);
  const before = await opened();
  await summary.focus();
  await page.keyboard.press("Enter");
  if (await opened() === before) {
    faults.push("the enter key does not fold a move");
  }
  await page.keyboard.press("Enter");
  return faults;
}

// The two values of a check that is compared are kept, told in both places, and compared.
export async function values({page}) {
  const faults = [];
  const fields = () => page.locator("[data-check]").evaluateAll((all) =>
    all.map(({dataset, value}) => ({check: dataset.check, when: dataset.when, value})));
  const all = await fields();
  for (const [index, {when}] of all.entries()) {
    await page.locator("[data-check]").nth(index).fill(when === "before" ? "4711" : "4712");
  }
  await reloaded(page);
  for (const {check, when, value} of await fields()) {
    if (value !== (when === "before" ? "4711" : "4712")) {
      faults.push(`the value ${when} of "${check}" is gone after a reload`);
    }
  }
  const said = () => page.locator(".compare output").allTextContents();
  const differ = await said();
  for (const [index, {when}] of all.entries()) {
    await page.locator("[data-check]").nth(index).fill(when === "before" ? "4711" : " 4711 ");
  }
  const same = await said();
  if (differ.some((text, index) => text === "" || text === same[index])) {
    faults.push("two values that differ read as two that are the same");
  }
  return faults;
}
