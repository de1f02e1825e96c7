// @ts-check
/**
 * The drawing of the spectra: asked from the server for the stretch and the size that is shown.
 *
 * @typedef {{name: string, x: Array<number|null>, y: Array<number|null>}} Line
 * @typedef {{x: number[], top: number[], foot: number[]}} Range
 * @typedef {{role: string, group: string, count: number, scale: number, offset: number}} About
 * @typedef {About & {lines: Line[], ranges: Range[]}} Group
 * @typedef {{low: number, high: number, groups: Group[]}} Drawing
 */

import { marked } from "./marking.js";

/** @type {any} The drawing library, once it is loaded. */
let library = null;

/** @type {Drawing | null} */
let drawn = null;

/** @type {[number, number] | null} The stretch asked for, high first; null for all. */
let stretch = null;

let asked = 0;

const INKS = {
  bare: ["#5b5348"],
  neat: ["#8a5a00", "#6b4a1e", "#a8741a"],
  coated: ["#0a3d62", "#2f6f8f", "#5a3a6e", "#1d6b52", "#7a2f3f", "#3b5bb5"],
  residue: ["#9a3f00"],
  "": ["#777777"],
};

const DASHES = { bare: "5px,3px", neat: "solid", coated: "solid", residue: "2px,2px", "": "1px,3px" };

/**
 * @param {string} name
 * @returns {HTMLInputElement}
 */
function field(name) {
  return /** @type {HTMLInputElement} */ (document.getElementById(name));
}

/** @returns {Promise<any>} */
async function load() {
  if (!library) {
    await new Promise((done) => {
      const script = document.createElement("script");
      script.src = "/library/plotly.js";
      script.onload = done;
      script.onerror = done; // without it everything but the drawing works
      document.head.append(script);
    });
    library = /** @type {any} */ (window).Plotly;
  }
  return library;
}

/**
 * Ask the server; a program that has ended gives nothing, which the stream of changes shows soon enough.
 *
 * @param {string} where
 * @returns {Promise<Response | null>}
 */
async function ask(where) {
  try {
    const answer = await fetch(where);
    return answer.ok ? answer : null;
  } catch {
    return null;
  }
}

/** @returns {HTMLElement} */
function place() {
  return /** @type {HTMLElement} */ (document.getElementById("plot"));
}

/** Ask for the stretch that is chosen, and draw it. */
export async function draw() {
  const number = ++asked;
  const box = place();
  const words = new URLSearchParams({
    stage: field("stage").value,
    width: String(Math.round(box.clientWidth)),
    height: String(Math.round(box.clientHeight)),
    apart: field("apart").checked ? "1" : "0",
  });
  if (stretch) {
    words.set("high", String(stretch[0]));
    words.set("low", String(stretch[1]));
  }
  for (const name of marked().slice(0, 100)) words.append("marked", name);
  const [answer] = await Promise.all([ask(`/curves?${words}`), load()]);
  if (!answer || !library || number !== asked) return;
  drawn = /** @type {Drawing} */ (await answer.json());
  await put(drawn);
}

/**
 * @param {string} role
 * @param {number} row
 * @returns {string}
 */
function ink(role, row) {
  const inks = /** @type {Record<string, string[]>} */ (INKS)[role] || INKS[""];
  return inks[row % inks.length];
}

/**
 * @param {Drawing} drawing
 * @returns {any[]}
 */
function traces(drawing) {
  /** @type {Record<string, number>} */
  const rows = {};
  return drawing.groups.flatMap((group) => {
    rows[group.role] = (rows[group.role] ?? -1) + 1;
    const colour = ink(group.role, rows[group.role]);
    const dash = /** @type {Record<string, string>} */ (DASHES)[group.role];
    return [...group.ranges.map((range) => shade(range, colour)), strokes(group, colour, dash)];
  });
}

/**
 * @param {Range} range
 * @param {string} colour
 * @returns {any}
 */
function shade(range, colour) {
  return {
    x: [...range.x, ...[...range.x].reverse()],
    y: [...range.top, ...[...range.foot].reverse()],
    type: "scatter",
    mode: "lines",
    fill: "toself",
    fillcolor: `${colour}2e`,
    line: { width: 0 },
    hoverinfo: "skip",
  };
}

/**
 * @param {Group} group
 * @param {string} colour
 * @param {string} dash
 * @returns {any}
 */
function strokes(group, colour, dash) {
  /** @type {Array<number|null>} */
  const x = [];
  /** @type {Array<number|null>} */
  const y = [];
  for (const line of group.lines) {
    for (const value of line.x) x.push(value);
    for (const value of line.y) y.push(value);
    x.push(null);
    y.push(null);
  }
  return { x, y, type: "scatter", mode: "lines", line: { width: 1.2, color: colour, dash, simplify: false }, hoverinfo: "skip" };
}

/** @returns {HTMLElement[]} */
function markButtons() {
  return /** @type {HTMLElement[]} */ ([...document.querySelectorAll("#marks .mark")]);
}

/**
 * Bands as upright stretches behind the lines; masked ones are grey and in brackets.
 *
 * @returns {{shapes: any[], annotations: any[]}}
 */
function bands() {
  /** @type {any[]} */
  const shapes = [];
  /** @type {any[]} */
  const annotations = [];
  const told = new Set();
  for (const button of markButtons()) {
    const at = Number(button.dataset.at);
    const key = `${button.dataset.owner} ${Math.round(at)}`;
    if (told.has(key)) continue;
    told.add(key);
    const masked = button.classList.contains("masked");
    const neat = button.classList.contains("neat");
    shapes.push({
      type: "line", layer: "below", xref: "x", yref: "paper", y0: neat ? 0.5 : 0, y1: neat ? 1 : 0.5, x0: at, x1: at,
      line: { color: masked ? "#777777" : neat ? "#8a5a00" : "#5b5348", width: 1.5, dash: masked ? "2px,4px" : "solid" },
    });
    if (neat) {
      annotations.push({
        x: at, xref: "x", y: 1, yref: "paper", yanchor: "bottom", showarrow: false, textangle: -60, xanchor: "left",
        text: masked ? `(${Math.round(at)})` : String(Math.round(at)), font: { size: 11, color: masked ? "#555555" : "#5c3c00" },
      });
    }
  }
  return { shapes, annotations };
}

/** @returns {any} The line at which values are read. */
function readingLine() {
  const at = Number(field("at").value);
  return at ? [{ type: "line", xref: "x", yref: "paper", y0: 0, y1: 1, x0: at, x1: at, line: { color: "#9a3f00", width: 1 } }] : [];
}

/** @param {Drawing} drawing */
async function put(drawing) {
  const { shapes, annotations } = bands();
  const labels = drawing.groups.flatMap((group, row) => label(group, row, drawing));
  const layout = {
    margin: { l: 14, r: 14, t: 46, b: 44 },
    showlegend: false,
    dragmode: "zoom",
    hovermode: false,
    paper_bgcolor: "#ffffff",
    plot_bgcolor: "#ffffff",
    font: { family: 'Verdana, "DejaVu Sans", sans-serif', size: 12, color: "#1a1a1a" },
    xaxis: {
      range: [drawing.high, drawing.low], // wavenumbers fall from left to right
      title: { text: "wavenumber, cm-1", standoff: 6 },
      showgrid: false,
      zeroline: false,
      ticks: "outside",
      linecolor: "#1a1a1a",
      fixedrange: false,
    },
    yaxis: { visible: false, fixedrange: true, autorange: true, zeroline: false },
    shapes: [...shapes, ...readingLine()],
    annotations: [...annotations, ...labels],
    uirevision: null,
  };
  const settings = { displayModeBar: false, scrollZoom: true, doubleClick: false, responsive: false, showTips: false };
  const box = place();
  const first = !box.classList.contains("js-plotly-plot");
  await library.react(box, traces(drawing), layout, settings);
  document.getElementById("js-plotly-tester")?.setAttribute("aria-hidden", "true"); // measures text, says nothing
  if (first) attach(box);
  say(drawing);
}

/**
 * @param {Group} group
 * @param {number} row
 * @param {Drawing} drawing
 * @returns {any[]}
 */
function label(group, row, drawing) {
  const line = group.lines[0];
  if (!line) return [];
  const values = line.y.filter((value) => value !== null);
  const same = drawing.groups.slice(0, row).filter((other) => other.role === group.role).length;
  const scale = Math.abs(group.scale - 1) > 0.005 ? `, drawn × ${group.scale.toPrecision(2)}` : "";
  const y = field("apart").checked ? Math.max(.../** @type {number[]} */ (values)) : null;
  return [{
    x: 0.004, xref: "paper", xanchor: "left", y: y ?? 1 - 0.055 * row, yref: y === null ? "paper" : "y", yanchor: y === null ? "top" : "bottom", showarrow: false,
    text: escaped(`${called(group)} (${group.count})${scale}`), font: { size: 12, color: ink(group.role, same) }, bgcolor: "rgba(255,255,255,.8)",
  }];
}

/**
 * @param {Group} group
 * @returns {string}
 */
function called(group) {
  /** @type {Record<string, string>} */
  const roles = { bare: "bare substrate", neat: "neat", coated: "sample", residue: "residue", "": "not said yet" };
  return [roles[group.role] ?? group.role, group.group].filter(Boolean).join(" ");
}

/**
 * The drawing library reads a few marks of its own in labels; none of a file's name may count as one.
 *
 * @param {string} words
 * @returns {string}
 */
function escaped(words) {
  return words.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");
}

/**
 * Write an end of what is drawn into its field, unless a person is typing another there.
 *
 * @param {string} name
 * @param {number} end
 * @param {number | undefined} wanted
 */
function tellEnd(name, end, wanted) {
  const box = field(name);
  if (box === document.activeElement && Number(box.value) !== wanted) return;
  box.value = String(Math.round(end));
}

/** @param {Drawing} drawing */
function say(drawing) {
  const total = drawing.groups.reduce((sum, group) => sum + group.count, 0);
  const lines = drawing.groups.reduce((sum, group) => sum + group.lines.length, 0);
  const shaded = lines < total ? `; the shaded ranges hold all, ${lines} that stand out or are marked are drawn as lines` : "";
  const words = total
    ? `${total} spectra in ${drawing.groups.length} groups, ${Math.round(drawing.high)} to ${Math.round(drawing.low)} cm-1${shaded}.`
    : "Nothing to draw of this yet: coated minus bare and the computed film come with the verdicts.";
  const told = document.getElementById("drawn");
  if (told && told.textContent !== words) told.textContent = words;
  tellEnd("high", drawing.high, stretch?.[0]);
  tellEnd("low", drawing.low, stretch?.[1]);
}

/**
 * Show a stretch.
 *
 * @param {number | null} low
 * @param {number | null} high
 * @returns {Promise<void>}
 */
export function show(low, high) {
  stretch = low === null || high === null || !(high > low) ? null : [high, low];
  return draw();
}

/** @param {HTMLElement} box */
function attach(box) {
  const plot = /** @type {any} */ (box);
  /** @type {number | undefined} */
  let later;
  plot.on("plotly_relayout", (/** @type {Record<string, number>} */ change) => {
    const from = change["xaxis.range[0]"];
    const to = change["xaxis.range[1]"];
    if (from === undefined || to === undefined) return;
    stretch = [Math.max(from, to), Math.min(from, to)];
    clearTimeout(later);
    later = setTimeout(draw, 30);
  });
  box.addEventListener("dblclick", () => show(null, null));
  box.addEventListener("mousemove", (event) => {
    const at = wavenumber(event);
    if (at !== null) read(at, event);
  });
  box.addEventListener("click", (event) => {
    const at = wavenumber(event);
    if (at !== null) choose(at);
  });
}

/**
 * @param {MouseEvent} event
 * @returns {number | null}
 */
function wavenumber(event) {
  const axis = /** @type {any} */ (place())._fullLayout?.xaxis;
  if (!axis) return null;
  const across = event.clientX - place().getBoundingClientRect().left - axis._offset;
  return across < 0 || across > axis._length ? null : axis.p2d(across);
}

/**
 * @param {Line} line
 * @param {number} at
 * @returns {number | null}
 */
function value(line, at) {
  const x = /** @type {number[]} */ (line.x);
  if (!x.length || at > x[0] || at < x[x.length - 1]) return null;
  let low = 0;
  let high = x.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (x[middle] >= at) low = middle;
    else high = middle;
  }
  const [a, b] = [line.y[low], line.y[high]];
  if (a === null || b === null) return null;
  return x[low] === x[high] ? a : a + ((b - a) * (x[low] - at)) / (x[low] - x[high]);
}

/**
 * Say the wavenumber, the absorbance of each group, and the assignments within reach.
 *
 * @param {number} at
 * @param {MouseEvent} [event]
 */
export function read(at, event) {
  if (!drawn) return;
  const found = drawn.groups.flatMap((group) => {
    const first = group.lines.map((line) => ({ line, y: value(line, at) })).filter((item) => item.y !== null);
    if (!first.length) return [];
    const values = first.map((item) => (/** @type {number} */ (item.y) - group.offset) / group.scale);
    const [least, most] = [Math.min(...values), Math.max(...values)];
    const said = values.length > 1 ? `${least.toFixed(4)} to ${most.toFixed(4)}` : least.toFixed(4);
    return [`${called(group)} ${said}`];
  });
  const near = markButtons()
    .filter((button) => Number(button.dataset.low) <= at && at <= Number(button.dataset.high))
    .map((button) => button.textContent?.trim());
  const bands = near.length ? `. Bands here: ${[...new Set(near)].join("; ")}` : "";
  const words = `${at.toFixed(0)} cm-1. Absorbance: ${found.join("; ")}${bands}`;
  const told = document.getElementById("read");
  if (told) told.textContent = words;
  if (event) assignments(at);
}

/** @type {number | undefined} */
let reaching;

/** @param {number} at Ask the tables once the pointer rests. */
function assignments(at) {
  clearTimeout(reaching);
  reaching = setTimeout(async () => {
    const answer = await ask(`/assignments?at=${at.toFixed(1)}`);
    const told = document.getElementById("within");
    if (answer && told) told.textContent = await answer.text();
  }, 120);
}

/** @param {number} at Choose the nearest band to a place, or the place itself. */
async function choose(at) {
  const nearest = markButtons()
    .map((button) => ({ button, off: Math.abs(Number(button.dataset.at) - at) }))
    .filter((item) => item.off < Math.max(8, pixel() * 6))
    .sort((a, b) => a.off - b.off)[0];
  await openBand(nearest ? Number(nearest.button.dataset.at) : at, nearest?.button.dataset.number);
}

/** @returns {number} How many cm-1 a pixel is wide. */
function pixel() {
  return drawn ? (drawn.high - drawn.low) / Math.max(place().clientWidth, 1) : 4;
}

/**
 * @param {number} at
 * @param {string} [number] Of the band, if one is chosen.
 */
export async function openBand(at, number) {
  const mark = number === undefined ? "" : `&mark=${number}`;
  const answer = await ask(`/near?at=${at.toFixed(1)}${mark}`);
  const told = document.getElementById("band");
  if (!answer || !told) return;
  const holder = document.createElement("template");
  holder.innerHTML = (await answer.text()).trim();
  told.replaceChildren(...(holder.content.firstElementChild?.childNodes ?? []));
  told.className = "band";
}

/** Connect the questions about the drawing. */
export function prepareDrawing() {
  const again = () => show(Number(field("low").value), Number(field("high").value));
  for (const name of ["low", "high"]) field(name).addEventListener("change", again);
  for (const name of ["stage", "apart"]) field(name).addEventListener("change", draw);
  document.getElementById("view")?.addEventListener("submit", (event) => {
    event.preventDefault();
    again();
  });
  document.getElementById("whole")?.addEventListener("click", () => show(null, null));
  document.getElementById("reading")?.addEventListener("submit", (event) => {
    event.preventDefault();
    openBand(Number(field("at").value));
  });
  field("at").addEventListener("input", () => {
    const at = Number(field("at").value);
    if (!at) return;
    read(at);
    assignments(at);
    if (library && drawn) library.relayout(place(), { shapes: [...bands().shapes, ...readingLine()] });
  });
  new ResizeObserver(() => {
    if (drawn && library) {
      library.Plots.resize(place());
      draw();
    }
  }).observe(/** @type {Element} */ (place().parentElement));
}
