// @ts-check
/** The page's own script: forms answer without a reload, files are marked and dropped, spectra are drawn. */

import { draw, openBand, prepareDrawing, show } from "./drawing.js";
import { count, marked, prepareMarking } from "./marking.js";
import { listen, onChange, send, sendQuestion, tell } from "./parts.js";

document.documentElement.classList.add("scripted");

const FORMS = new Set(["/places", "/guesses", "/start", "/stop"]);

/**
 * @param {string} name
 * @returns {HTMLInputElement}
 */
function field(name) {
  return /** @type {HTMLInputElement} */ (document.getElementById(name));
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement)) return;
  const action = new URL(form.action).pathname;
  if (action === "/files") {
    event.preventDefault();
    add([...(field("upload").files ?? [])]);
  } else if (action === "/measured") {
    event.preventDefault(); // each question was sent when it was answered
  } else if (FORMS.has(action)) {
    event.preventDefault();
    send(action, new FormData(form));
  }
});

document.addEventListener("change", (event) => {
  const form = event.target instanceof Element ? event.target.closest("form") : null;
  if (form?.id === "measured") sendQuestion(form, event.target instanceof Element ? (event.target.getAttribute("name") ?? "") : "");
  if (event.target === field("upload")) add([...(field("upload").files ?? [])]);
  if (event.target === field("role")) fit();
});

/** Show only the questions that the chosen role asks. */
function fit() {
  const role = field("role").value;
  const asked = { group: ["neat", "coated", "residue"], pieces: ["bare", "coated"], specimen: ["bare", "coated"], reason: ["left out"] };
  for (const [name, roles] of Object.entries(asked)) {
    const label = field(name).closest("label");
    if (label) label.hidden = !roles.includes(role) || (name === "specimen" && field("pieces").value !== "one");
  }
}

/**
 * Put files into the folder, one after the other, so that one that is refused does not hold up the others.
 *
 * @param {File[]} files
 */
async function add(files) {
  const refused = [];
  for (const file of files) {
    const form = new FormData();
    form.append("version", "");
    form.append("file", file);
    const done = await send("/files", form);
    if (!done) refused.push(document.getElementById("notice")?.textContent?.trim() || file.name);
  }
  field("upload").value = "";
  if (refused.length) tell(refused.join("; "));
}

const drop = /** @type {HTMLElement} */ (document.getElementById("drop"));
for (const name of ["dragover", "dragleave", "drop"]) {
  document.addEventListener(name, (event) => {
    event.preventDefault();
    drop.classList.toggle("over", name === "dragover");
    if (name === "drop" && event instanceof DragEvent) add([...(event.dataTransfer?.files ?? [])]);
  });
}

document.addEventListener("click", async (event) => {
  const button = event.target instanceof Element ? event.target.closest("button") : null;
  if (!button) return;
  if (button.classList.contains("show")) {
    await show(Number(button.dataset.low), Number(button.dataset.high));
    const plot = /** @type {HTMLElement} */ (document.getElementById("look"));
    plot.scrollIntoView({ block: "start" });
    field("at").focus({ preventScroll: true });
  } else if (button.classList.contains("mark")) {
    await openBand(Number(button.dataset.at), button.dataset.number);
  } else if (button.classList.contains("copy")) {
    await copy(button);
  }
});

/** @param {Element} button Copy the statement beside a button. */
async function copy(button) {
  const words = button.parentElement?.querySelector("blockquote")?.textContent?.trim() ?? "";
  try {
    await navigator.clipboard.writeText(words);
    button.textContent = "Copied";
  } catch {
    const range = document.createRange();
    const said = button.parentElement?.querySelector("blockquote");
    if (said) range.selectNodeContents(said);
    getSelection()?.removeAllRanges();
    getSelection()?.addRange(range);
    button.textContent = "Marked: copy it with the keyboard";
  }
}

/** @returns {string} What the drawing depends on. */
function drawnFrom() {
  const rows = [...document.querySelectorAll("#files > li")];
  const about = rows.map((row) => `${row.id}${row.querySelector(".who b")?.textContent ?? ""}${row.getAttribute("data-role")}${row.querySelector(".trace path") ? 1 : 0}`);
  return about.join() + [...document.querySelectorAll("#marks .mark")].map((mark) => mark.textContent).join();
}

let before = drawnFrom();
/** @type {number | undefined} */
let later;

const PATIENCE = 8000; // ms
let drawn = false;

/** @returns {boolean} Whether the folder is being read for the first time: the drawing waits for that. */
function firstReading() {
  return !drawn && performance.now() < PATIENCE && document.querySelector(".file .waiting") !== null;
}

/** Draw for the first time, unless that was done. */
function begin() {
  if (drawn || firstReading()) return;
  drawn = true;
  draw();
}

onChange(() => {
  count();
  const now = drawnFrom();
  if (now === before || firstReading()) return;
  before = now;
  drawn = true;
  clearTimeout(later);
  later = setTimeout(draw, 60);
});

let some = false;
prepareMarking(() => {
  const any = marked().length > 0;
  if (any || some) {
    clearTimeout(later);
    later = setTimeout(draw, 150);
  }
  some = any;
});
field("pieces").addEventListener("change", fit);
fit();
prepareDrawing();
listen();
begin();
setTimeout(begin, PATIENCE);
