// @ts-check
/**
 * The parts of the page: what the server sends replaces the element of that name.
 *
 * @typedef {{tick: number, version: string, order: string[] | null, parts: Record<string, string>, notice?: string}} News
 */

/** @type {number} */
let tick = Number(document.body.dataset.tick);

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
 * Change an element into another one, keeping everything that is alike in place: a person may stand in it.
 *
 * @param {Node} old
 * @param {Node} made
 */
function become(old, made) {
  if (old.nodeName !== made.nodeName) {
    /** @type {ChildNode} */ (old).replaceWith(made);
    return;
  }
  if (!(old instanceof Element && made instanceof Element)) {
    if (old.nodeValue !== made.nodeValue) old.nodeValue = made.nodeValue;
    return;
  }
  takeAttributes(old, made);
  const [before, after] = [[...old.childNodes], [...made.childNodes]];
  after.forEach((child, row) => {
    if (row < before.length) become(before[row], child);
    else old.append(child);
  });
  for (const child of before.slice(after.length)) child.remove();
  if (old instanceof HTMLSelectElement && old.dataset.wanted !== undefined) {
    old.value = old.dataset.wanted;
    delete old.dataset.wanted;
  }
}

/** @type {WeakMap<Element, string>} What each control held when it was last sent. */
const sent = new WeakMap();

/**
 * @param {Element} control
 * @returns {string} What it holds.
 */
function held(control) {
  if (control instanceof HTMLInputElement) return control.type === "checkbox" ? String(control.checked) : control.value;
  return control instanceof HTMLSelectElement ? control.value : "";
}

/**
 * Tell whether a person has changed a control and that was not sent yet: then it is not written over.
 *
 * @param {Element} control
 * @returns {boolean}
 */
function unsent(control) {
  let given = "";
  if (control instanceof HTMLInputElement) {
    given = control.type === "checkbox" ? String(control.defaultChecked) : control.defaultValue;
  } else if (control instanceof HTMLSelectElement) {
    given = ([...control.options].find((item) => item.defaultSelected) ?? control.options[0])?.value ?? "";
  }
  return held(control) !== given && sent.get(control) !== held(control);
}

/**
 * Take over the attributes, and what a control holds unless a person is changing it.
 *
 * @param {Element} old
 * @param {Element} made
 */
function takeAttributes(old, made) {
  const marks = old.matches(".file > input");
  const keep = marks || unsent(old instanceof HTMLOptionElement ? (old.closest("select") ?? old) : old);
  const chosen = old instanceof HTMLOptionElement ? old.selected : false;
  for (const name of old.getAttributeNames()) {
    if (!made.hasAttribute(name) && !(marks && name === "tabindex")) old.removeAttribute(name);
  }
  for (const name of made.getAttributeNames()) {
    const value = made.getAttribute(name) ?? "";
    if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  }
  if (old instanceof HTMLInputElement && !keep) {
    old.value = made.getAttribute("value") ?? "";
    old.checked = made.hasAttribute("checked");
  }
  if (old instanceof HTMLSelectElement && !keep && made instanceof HTMLSelectElement) old.dataset.wanted = made.value;
  if (old instanceof HTMLOptionElement && keep && chosen) old.selected = true;
}

/**
 * @param {string} name
 * @param {string} html
 */
function replace(name, html) {
  const old = document.getElementById(name);
  if (!old) return;
  const holder = document.activeElement?.id;
  become(old, element(html));
  const now = document.activeElement;
  if (holder && (!now || now === document.body)) document.getElementById(holder)?.focus({ preventScroll: true });
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
  if (news.tick < tick) return; // an answer that was overtaken: what it holds is on the page already
  tick = news.tick;
  for (const [name, html] of Object.entries(news.parts)) replace(name, html);
  if (news.order) arrange(news.order, news.parts);
  setVersion(news.version);
  for (const listener of listeners) listener();
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
 * Send what one question holds, and nothing else: what another window says meanwhile stays.
 *
 * @param {HTMLFormElement} form
 * @param {string} name
 */
export function sendQuestion(form, name) {
  const whole = new FormData(form);
  const part = new FormData();
  part.append("version", "");
  for (const value of whole.getAll(name)) part.append(name, value);
  for (const control of form.elements) if (control.getAttribute("name") === name) sent.set(control, held(control));
  send(form.getAttribute("action") ?? "", part);
}

/** Put up everything anew, as after a change that was overtaken by another one. */
async function renew() {
  const answer = await fetch("/parts?since=0");
  if (answer.ok) apply(await answer.json());
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
      if (answer.status === 409) await renew();
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
}
