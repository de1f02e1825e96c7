// @ts-check
/** Marking files of the list, many at once, by mouse and by keyboard. */

/** @returns {HTMLInputElement[]} */
function boxes() {
  return /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll("#files > li > input:not(:disabled)")]);
}

/** @returns {string[]} Names of the marked files. */
export function marked() {
  return boxes().filter((box) => box.checked).map((box) => box.value);
}

/** @type {string} Element of the file from which a run is marked. */
let anchor = "";

/** @param {HTMLInputElement} box Make this the one file the tab key comes to. */
function stand(box) {
  for (const other of boxes()) other.tabIndex = other === box ? 0 : -1;
}

/**
 * Mark all files between two, like the first of them.
 *
 * @param {HTMLInputElement} to
 * @param {boolean} value
 */
function run(to, value) {
  const all = boxes();
  const from = Math.max(all.findIndex((box) => box.id === anchor), 0);
  const [low, high] = [from, all.indexOf(to)].sort((a, b) => a - b);
  for (const box of all.slice(low, high + 1)) box.checked = value;
}

/** Say how many are marked, and keep one file reachable by the tab key. */
export function count() {
  const all = boxes();
  const number = all.filter((box) => box.checked).length;
  const place = document.getElementById("marked");
  const words = number ? `${number} of ${all.length} files marked` : "No file is marked.";
  if (place && place.textContent !== words) place.textContent = words;
  if (all.length && !all.some((box) => box.tabIndex === 0)) stand(all[0]);
  if (all.filter((box) => box.tabIndex === 0).length > 1) stand(all[0]);
}

/** @param {() => void} changed Called when other files are marked. */
export function prepareMarking(changed) {
  const list = document.getElementById("files");
  if (!list) return;
  const after = () => {
    count();
    changed();
  };
  list.addEventListener("click", (event) => {
    const box = event.target;
    if (!(box instanceof HTMLInputElement)) return;
    if (event.shiftKey && anchor) run(box, true);
    anchor = box.id;
    stand(box);
    after();
  });
  list.addEventListener("mousedown", (event) => {
    if (event.shiftKey) event.preventDefault(); // no text is marked along with the files
  });
  list.addEventListener("keydown", (event) => press(event, after));
  count();
}

/**
 * @param {KeyboardEvent} event
 * @param {() => void} after
 */
function press(event, after) {
  const all = boxes();
  const here = event.target instanceof HTMLInputElement ? all.indexOf(event.target) : -1;
  if (here < 0) return;
  /** @type {Record<string, number>} */
  const moves = { ArrowDown: here + 1, ArrowUp: here - 1, Home: 0, End: all.length - 1, PageDown: here + 10, PageUp: here - 10 };
  if (event.key in moves) {
    event.preventDefault();
    const next = all[Math.min(Math.max(moves[event.key], 0), all.length - 1)];
    if (event.shiftKey) run(next, true);
    else anchor = next.id;
    stand(next);
    next.focus();
  } else if (event.key === "a" || event.key === "A") {
    event.preventDefault();
    for (const box of all) box.checked = true;
  } else if (event.key === "Escape") {
    for (const box of all) box.checked = false;
  } else if (event.key === "Enter") {
    event.preventDefault();
    document.getElementById("role")?.focus();
  } else {
    return;
  }
  after();
}
