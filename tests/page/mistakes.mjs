// A bundle with a fine page -> copies of it, each with one mistake in the page and the check that must find it.

import {cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync} from "node:fs";
import {tmpdir} from "node:os";
import {join} from "node:path";

// Puts something in the place of what is found first; what is not there cannot be spoilt.
const instead = (one, other) => (text) => {
  const spoilt = text.replace(one, other);
  if (spoilt === text) {
    throw new Error(`nothing in the page is like ${one}`);
  }
  return spoilt;
};
const style = (rule) => instead("</style>", () => `${rule}\n</style>`);
const body = (more) => instead("</main>", () => `${more}</main>`);

const MISTAKES = [
  ["ticks", "a tick is not kept", instead("localStorage.setItem(key,", "localStorage.getItem(key,")],
  ["ticks", "a tick is kept under one name for all", instead("box.dataset.tick = name;", "box.dataset.tick = 'one';")],
  ["picture", "two steps back at once", instead("go(kept.at - 1, true)", "go(kept.at - 2, true)")],
  ["picture", "a text of the picture stays", instead("place.textContent = text;", "place.textContent = place.textContent || text;")],
  ["copying", "a word of a file is another", instead(/(<pre># )/, "$1x")],
  ["copying", "what steps type is not put back into a file", instead("gap.replaceWith(typed.slice(first - 1, last).join(\"\"));", "gap.remove();")],
  ["copying", "what a step looks at is put back in part", instead("\"# check: \" +", "\"# look: \" +")],
  ["copying", "a step's text has a blank at its end", instead(/<pre class="type">([^<]*)</, "<pre class=\"type\">$1 <")],
  ["copying", "the other way of copying does nothing", instead("document.execCommand(\"copy\")", "document.execCommand(\"cut\")")],
  ["copying", "a file cannot be copied", instead("class=\"file\"", "class=\"other\"")],
  ["filter", "a run of steps is at another place", instead(/class="group" data-place="[^"]*"/, "class=\"group\" data-place=\"elsewhere\"")],
  ["filter", "the choice is not kept", instead("filter();\nkeep();", "filter();")],
  ["keyboard", "nothing shows the focus", style("*:focus-visible { outline: none; }")],
  ["keyboard", "something is out of reach", body("<p tabindex=\"-1\">x</p>")],
  ["keyboard", "an arrow key does nothing", instead("ArrowRight: 1}", "ArrowUp: 1}")],
  ["values", "a value is not kept", instead("kept.values[field.dataset.check + \" \" + field.dataset.when] = field.value;", "")],
  ["narrow", "something is wide", body("<p style=\"width: 500px\">x</p>")],
  ["narrow", "something wide is cut off", body("<div style=\"overflow: hidden; width: 100%\"><p style=\"width: 500px\">x</p></div>")],
  ["print", "a step may be cut", style("@media print { .steps > li { break-inside: auto; padding-bottom: 14cm; } }")],
  ["print", "buttons are printed", style("@media print { .copy { display: block !important; } }")],
  ["print", "moves stay folded", style("@media print { .move > .group { display: none !important; } }")],
  ["axe", "letters are pale", style(".over { color: #c2c2c2 !important; }")],
  ["axe", "letters are pale in the dark", style("@media (prefers-color-scheme: dark) { .over { color: #333 !important; } }")],
  ["plain", "without script the moves are hidden", style("html:not(.on) .moves { display: none; }")],
  ["size", "much is said", body(`<!-- ${"x".repeat(300_000)} -->`)],
  ["alone", "a picture from elsewhere", body("<img alt=\"\" src=\"https://192.0.2.1/one.png\"/>")],
  ["alone", "the script asks for a picture", instead("\"use strict\";", "new Image().src = \"https://192.0.2.1/one.png\";")],
  ["alone", "the script fails", instead("\"use strict\";", "throw new Error(\"no\");")],
];

// One value of one step in the data of the picture, and one unit that it names.
const PICTURE = [
  ["a link is dark", instead(/("frames">.*?)"k":"stack"/s, "$1\"k\": \"dark\"")],
  ["a unit has another id", instead(/("frames">(?:.*\n)+?.*)"id":"\d+"/, "$1\"id\": \"99\"")],
  ["a role is another", instead(/("frames">(?:.*\n)+?.*)"o":"[^"]*"/, "$1\"o\": \"primary\"")],
  ["an island is another", instead(/("frames">(?:.*\n)+?.*)"i":"2"/, "$1\"i\": \"1\"")],
  ["a port is out of use", instead(/("frames">(?:.*\n)+?.*)("[ul]e"):"yes"/, "$1$2:\"no\"")],
  ["a unit is called otherwise", instead(/ data-unit="([^"]*)"/, " data-unit=\"$1x\"")],
  ["a step is left out", instead(/("frames">.*\n).*\n/, "$1")],
  ["the words of a unit stay", instead("place.textContent = text;", "place.textContent = place.textContent || text;")],
];

export function* mistakes(bundle) {
  for (const [name, what, spoil] of MISTAKES) {
    for (const at of spoilt(bundle, spoil)) {
      yield {name, what, at};
    }
  }
}

export function* mistakesOfPicture(bundle) {
  for (const [what, spoil] of PICTURE) {
    for (const at of spoilt(bundle, spoil)) {
      yield {what, at};
    }
  }
}

// A copy with the mistake in it, in a folder that is gone when the next is asked for.
function* spoilt(bundle, spoil) {
  const at = mkdtempSync(join(tmpdir(), "page-"));
  try {
    cpSync(bundle, at, {recursive: true});
    const page = join(at, "runbook.html");
    writeFileSync(page, spoil(readFileSync(page, "utf8")));
    yield at;
  } finally {
    rmSync(at, {recursive: true, force: true});
  }
}
