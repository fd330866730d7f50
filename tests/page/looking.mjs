// How the page looks and what it takes: narrow, on paper, to assistive technology, without script, in bytes.
// Each check takes an opened page and its bundle and gives a list of faults.

import {readFileSync, statSync} from "node:fs";
import {join} from "node:path";

import {open, packages, unfold} from "./browser.mjs";
import {plan} from "./doing.mjs";

// On a phone beside the rack nothing is wider than the screen.
export async function narrow({page}) {
  const faults = [];
  await page.setViewportSize({width: 320, height: 640});
  await unfold(page);
  const wide = () => page.evaluate(() => document.documentElement.scrollWidth);
  if (await wide() > 320) {
    faults.push(`the page is ${await wide()} px wide on a screen of 320`);
  }
  await page.click("#open");
  if (!await page.locator("#picture").isVisible()) {
    faults.push("the picture does not open on a narrow screen");
  }
  if (await wide() > 320) {
    faults.push("with the picture open the page is wider than the screen");
  }
  const beside = await page.evaluate(() => Array.from(document.querySelectorAll("body *"))
    .filter((one) => one.checkVisibility() && !one.closest(".sheet, .quiet, #view"))
    .filter((one) => one.getBoundingClientRect().right > 320.5).length);
  if (beside > 0) {
    faults.push(`${beside} elements reach beyond a screen of 320 px`);
  }
  return faults;
}

// Marks where each step begins and ends, with links to them, so that a PDF says on which page they lie.
const mark = () => {
  const list = document.createElement("p");
  document.querySelectorAll(".steps > li").forEach((step, index) => {
    step.style.position = "relative";
    for (const side of ["top", "bottom"]) {
      const spot = document.createElement("a");
      spot.id = `spot-${index}-${side}`;
      spot.style.cssText = `position: absolute; ${side}: 0; width: 1px; height: 1px`;
      step.append(spot);
      const link = document.createElement("a");
      link.href = `#${spot.id}`;
      link.textContent = ".";
      list.append(link);
    }
  });
  document.body.append(list);
  return document.querySelectorAll(".steps > li").length;
};

// What reads a PDF. As it is loaded it asks, and warns, for what only drawing needs.
async function reader(modules) {
  const {log, warn} = console;
  globalThis.DOMMatrix ??= class DOMMatrix {};
  console.log = console.warn = () => {};
  try {
    return (await import(packages(modules).resolve("pdfjs-dist/legacy/build/pdf.mjs"))).getDocument;
  } finally {
    Object.assign(console, {log, warn});
  }
}

// On paper: unfolded, with both pictures, without what only a screen needs, no step cut in two.
export async function print({page, modules}) {
  const faults = [];
  await page.emulateMedia({media: "print"});
  const seen = await page.evaluate(() => {
    dispatchEvent(new Event("beforeprint"));
    const shows = (what) => Array.from(document.querySelectorAll(what)).filter((one) => one.checkVisibility()).length;
    const drawn = (one) => Array.from(one.querySelectorAll("svg")).some((part) => part.checkVisibility());
    const seen = {steps: shows(".step"), all: document.querySelectorAll(".step").length,
      pictures: Array.from(document.querySelectorAll("figure")).filter(drawn).length,
      screen: shows("button, select, nav, aside")};
    dispatchEvent(new Event("afterprint"));
    return seen;
  });
  await page.emulateMedia({media: null});
  if (seen.steps < seen.all) {
    faults.push(`on paper ${seen.all - seen.steps} steps are folded away`);
  }
  if (seen.pictures !== 2) {
    faults.push(`on paper there are ${seen.pictures} pictures, and not those before and after`);
  }
  if (seen.screen > 0) {
    faults.push("on paper there is something to press");
  }
  const count = await page.evaluate(mark);
  const margin = {top: "12mm", bottom: "12mm", left: "12mm", right: "12mm"};
  const data = new Uint8Array(await page.pdf({format: "A4", margin, printBackground: true}));
  const paper = await (await reader(modules))({data, verbosity: 0}).promise;
  const spots = await paper.getDestinations();
  const side = async (name) => {
    const spot = spots[name];
    return spot ? paper.getPageIndex(spot[0]) : undefined;
  };
  for (let index = 0; index < count; index += 1) {
    const [top, bottom] = [await side(`spot-${index}-top`), await side(`spot-${index}-bottom`)];
    if (top === undefined || bottom === undefined) {
      faults.push(`step ${index + 1} on the page is not on the paper`);
    } else if (top !== bottom) {
      faults.push(`step ${index + 1} on the page is cut in two between the sheets ${top + 1} and ${bottom + 1}`);
    }
  }
  await paper.loadingTask.destroy();
  return faults;
}

// axe-core has nothing serious to say, in the light and in the dark.
export async function axe({page, modules}) {
  const faults = [];
  const {source} = packages(modules)("axe-core");
  await unfold(page);
  await page.evaluate(source);
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({colorScheme});
    const {violations} = await page.evaluate(() => globalThis.axe.run(document, {resultTypes: ["violations"]}));
    for (const {id, impact, help, nodes} of violations) {
      if (["serious", "critical"].includes(impact)) {
        faults.push(`axe-core (${impact}, ${colorScheme}): ${id}: ${help}; ${nodes.length} times, first ${nodes[0].html.slice(0, 160)}`);
      }
    }
  }
  return faults;
}

// Without script all is there to read, and nothing that needs it is.
export async function plain({browser, bundle}) {
  const {page, context, faults} = await open(browser, bundle, {javaScriptEnabled: false});
  const seen = await page.evaluate(() => {
    document.querySelectorAll("details").forEach((one) => { one.open = true; });
    const shows = (one) => one.checkVisibility();
    const hidden = (what) => Array.from(document.querySelectorAll(what)).filter((one) => !shows(one)).length;
    return {steps: document.querySelectorAll(".step").length, pictures: hidden("figure .sheet svg"),
      folded: hidden(".step, .steps > li, .steps p, .steps pre, h1, h2, h3, main li"),
      idle: Array.from(document.querySelectorAll("button, select, aside")).filter(shows).length};
  });
  await context.close();
  const steps = plan(bundle).steps.length;
  if (seen.steps !== steps) {
    faults.push(`without script there are ${seen.steps} steps of ${steps}`);
  }
  if (seen.pictures > 0 || seen.folded > 0) {
    faults.push(`without script ${seen.pictures + seen.folded} things to read are hidden`);
  }
  if (seen.idle > 0) {
    faults.push(`without script ${seen.idle} things to press do nothing`);
  }
  return faults;
}

// Small: by the members of the larger of the two stacks.
export async function size({bundle}) {
  const {units} = plan(bundle);
  const members = Math.max(...["joining", "leaving"].map((one) => units.filter(({status}) => status !== one).length));
  const limit = members > 8 ? 300_000 : 150_000;
  const bytes = statSync(join(bundle, "runbook.html")).size;
  return bytes > limit ? [`${bytes} bytes for ${members} members, and ${limit} are the limit`] : [];
}

// Nothing is named that would be fetched, even if nobody asks for it today.
export async function alone({bundle}) {
  const text = readFileSync(join(bundle, "runbook.html"), "utf8");
  const found = [...text.matchAll(/(?:src|href|action|data|poster)="([^"]*)"|url\(([^)]*)\)|@import/g)];
  const away = found.map((one) => one[1] ?? one[2] ?? one[0]).filter((aim) => !/^(#|data:,?$)/.test(aim));
  return away.map((aim) => `the page names ${aim.slice(0, 80)}`);
}
