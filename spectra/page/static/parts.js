// @ts-check
/**
 * The parts of the page: what the server sends replaces the element of that name.
 *
 * @typedef {{tick: number, version: string, order: string[] | null, parts: Record<string, string>, notice?: string}} News
 */

/** @type {number} */
let tick = Number(document.body.dataset.tick);

/** @type {Record<string, string>} Parts that wait until the person has left them. */
const waiting = {};

/** @type {Array<() => void>} */
const listeners = [];

/** @returns {number} The count of changes this page is up to. */
export function seen() {
  return tick;
}

/** @param {() => void} listener Called after every change. */
export function onChange(listener) {
  listeners.push(listener);
}

/**
 * @param {string} html
 * @returns {Element}
 */
function element(html) {
  const holder = document.createElement("template");
  holder.innerHTML = html.trim();
  const made = holder.content.firstElementChild;
  if (!made) throw new Error("an empty part");
  return made;
}

/**
 * Tell whether a person is writing into an element, so that it must not be replaced now.
 *
 * @param {Element} old
 * @returns {boolean}
 */
function written(old) {
  const active = document.activeElement;
  if (!(active instanceof HTMLInputElement) || !old.contains(active)) return false;
  return active.type !== "checkbox" && active.value !== active.defaultValue;
}

/**
 * Replace one part, keeping the focus and the marks of files.
 *
 * @param {string} name
 * @param {string} html
 */
function replace(name, html) {
  const old = document.getElementById(name);
  if (!old) return;
  if (written(old)) {
    waiting[name] = html;
    return;
  }
  const made = element(html);
  const focus = document.activeElement && old.contains(document.activeElement) ? document.activeElement : null;
  const box = old.querySelector(":scope > input[type=checkbox]");
  const fresh = made.querySelector(":scope > input[type=checkbox]");
  if (box instanceof HTMLInputElement && fresh instanceof HTMLInputElement) {
    fresh.checked = box.checked;
    fresh.tabIndex = box.tabIndex;
  }
  old.replaceWith(made);
  if (focus) refocus(made, focus);
}

/**
 * @param {Element} made
 * @param {Element} focus
 */
function refocus(made, focus) {
  const named = focus.getAttribute("name");
  const found =
    (focus.id && document.getElementById(focus.id)) ||
    [...made.querySelectorAll("[name]")].find((item) => item.getAttribute("name") === named) ||
    made.querySelector("button, input, select, a");
  if (found instanceof HTMLElement) found.focus({ preventScroll: true });
}

/**
 * Bring the list of files into an order; rows that are not in it go.
 *
 * @param {string[]} order
 * @param {Record<string, string>} parts
 */
function arrange(order, parts) {
  const list = document.getElementById("files");
  if (!list) return;
  const wanted = new Set(order);
  for (const row of [...list.children]) if (!wanted.has(row.id)) row.remove();
  /** @type {Element | null} */
  let next = list.firstElementChild;
  for (const name of order) {
    if (next && next.id === name) {
      next = next.nextElementSibling;
      continue;
    }
    const row = document.getElementById(name) || (parts[name] ? element(parts[name]) : null);
    if (row) list.insertBefore(row, next);
  }
}

/** @param {string} version */
function setVersion(version) {
  document.body.dataset.version = version;
  for (const field of document.querySelectorAll("input[name=version]")) {
    if (field instanceof HTMLInputElement) field.value = version;
  }
}

/** @param {News} news */
export function apply(news) {
  if (news.tick > tick || news.notice !== undefined) {
    tick = Math.max(tick, news.tick);
    for (const [name, html] of Object.entries(news.parts)) replace(name, html);
    if (news.order) arrange(news.order, news.parts);
    setVersion(news.version);
    for (const listener of listeners) listener();
  }
}

/** Put up what had to wait, once nobody is writing there. */
export function settle() {
  for (const [name, html] of Object.entries(waiting)) {
    delete waiting[name];
    replace(name, html);
  }
}

/** @type {Promise<unknown>} One form after the other: the second must know what the first has changed. */
let before = Promise.resolve();

/**
 * Send a form and put up the answer.
 *
 * @param {string} action
 * @param {FormData | (() => FormData)} form
 * @returns {Promise<boolean>} Whether it was done.
 */
export function send(action, form) {
  const sent = before.then(() => post(action, typeof form === "function" ? form() : form));
  before = sent.catch(() => undefined);
  return sent;
}

/**
 * @param {string} action
 * @param {FormData} form
 * @returns {Promise<boolean>}
 */
async function post(action, form) {
  if (form.has("version")) form.set("version", document.body.dataset.version || "");
  const holdsFiles = [...form.values()].some((value) => value instanceof File);
  const body = holdsFiles ? form : new URLSearchParams(/** @type {any} */ (form));
  try {
    const answer = await fetch(action, {
      method: "POST",
      body,
      headers: { accept: "application/json", "x-since": String(tick) },
    });
    if (answer.headers.get("content-type")?.startsWith("application/json")) {
      apply(await answer.json());
    } else if (!answer.ok) {
      tell(await answer.text());
    }
    return answer.ok;
  } catch {
    tell("The program behind this page does not answer. Was it closed? Start it again and reload.");
    return false;
  }
}

/** @param {string} words Say something where answers to a person stand. */
export function tell(words) {
  const place = document.getElementById("notice");
  if (!place) return;
  const said = document.createElement("p");
  said.className = "refused";
  said.textContent = words;
  place.replaceChildren(said);
}

/** Hear of every change for as long as the page is open. */
export function listen() {
  const source = new EventSource(`/events?since=${tick}`);
  source.onmessage = (event) => apply(JSON.parse(event.data));
  document.addEventListener("focusout", () => setTimeout(settle, 0));
}
