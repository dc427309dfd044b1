// Draws: elements from plain descriptions, laid over what is there so that a button under a finger stays that button;
// and ticks: figures that count from absolute times. Nothing about an incident is worked out here.

let clock = () => Date.now();

/** The time that everything is drawn by, in milliseconds. */
export const now = () => clock();

/** Draw by another clock: the server's, or a replay's. */
export function setClock(read) {
  clock = read;
}

/** An element: tag with classes ("p.small"), attributes, children (elements or text; empty ones are left out). */
export function el(kind, attributes = {}, ...children) {
  const [tag, ...classes] = kind.split(".");
  const made = document.createElement(tag);
  if (classes.length) made.className = classes.join(" ");
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(name, value);
  }
  for (const child of children.flat()) {
    if (child !== null && child !== undefined && child !== "" && child !== false) made.append(child);
  }
  return made;
}

/** Make `old` as `fresh` is, keeping its elements where they are of the same kind and key. */
export function lay(old, fresh) {
  for (const { name } of [...old.attributes]) if (name !== "style" && !fresh.hasAttribute(name)) old.removeAttribute(name);
  for (const { name, value } of [...fresh.attributes]) {
    if (name !== "style" && old.getAttribute(name) !== value) old.setAttribute(name, value);
  }
  // as a property: the policy lets no style attribute be written
  if (old.style.cssText !== fresh.style.cssText) old.style.cssText = fresh.style.cssText;
  layChildren(old, [...fresh.childNodes]);
}

/** Make the children of `parent` these. */
export function layChildren(parent, wanted) {
  const keyed = new Map();
  for (const child of parent.children) if (child.dataset.key) keyed.set(child.dataset.key, child);
  wanted.forEach((fresh, place) => {
    const there = parent.childNodes[place];
    const key = fresh.nodeType === Node.ELEMENT_NODE ? fresh.dataset.key : undefined;
    const kept = key ? keyed.get(key) : there;
    if (kept && alike(kept, fresh)) {
      if (kept !== there) parent.insertBefore(kept, there ?? null);
      if (kept.nodeType === Node.TEXT_NODE) {
        if (kept.data !== fresh.data) kept.data = fresh.data;
      } else lay(kept, fresh);
    } else parent.insertBefore(fresh, there ?? null);
  });
  while (parent.childNodes.length > wanted.length) parent.lastChild.remove();
}

function alike(one, other) {
  if (one.nodeType !== other.nodeType) return false;
  if (one.nodeType === Node.TEXT_NODE) return true;
  return one.tagName === other.tagName && (one.dataset.key ?? "") === (other.dataset.key ?? "");
}

/** Minutes and seconds, rounded down: "1:40", "1:02:30". */
export function span(ms) {
  const whole = Math.max(0, Math.floor(ms / 1000 + 1e-6));
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole % 3600) / 60);
  const seconds = String(whole % 60).padStart(2, "0");
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${seconds}` : `${minutes}:${seconds}`;
}

let zone;
let clockWords = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit" });

/** Clock times are told in the house's time zone. */
export function setZone(name) {
  if (name === zone) return;
  zone = name;
  try {
    clockWords = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: name });
  } catch {
    // a zone that this browser doesn't know: its own stays
  }
}

/** "14:05" of an absolute time. */
export const at = (time) => (time ? clockWords.format(new Date(time)) : "");

/** A figure that counts up from `since`, or down to `until` (then it stands at 0:00). */
export function ticking(kind, { since, until, stop }, attributes = {}) {
  const made = el(kind, { ...attributes, "data-since": since ?? null, "data-until": until ?? null, "data-stop": stop });
  made.textContent = figure(made);
  return made;
}

function figure(element) {
  const { since, until, stop } = element.dataset;
  const moment = stop ? Math.min(Date.parse(stop), now()) : now();
  return span(until ? Date.parse(until) - moment : moment - Date.parse(since));
}

/** A figure that the server has worked out for the time to come: [time, words, share] from which time on. */
export function course(steps) {
  const made = el("div.course", { "data-steps": JSON.stringify(steps) }, el("span.figure"), el("span.track", {}, el("span.fill")));
  follow(made);
  return made;
}

function follow(element) {
  if (element.read !== element.dataset.steps) {
    element.read = element.dataset.steps;
    element.steps = JSON.parse(element.read).map(([time, words, share]) => [Date.parse(time), words, share]);
  }
  let found = element.steps[0];
  for (const step of element.steps) if (step[0] <= now()) found = step;
  if (!found) return;
  const [figureAt, track] = element.children;
  if (figureAt.textContent !== found[1]) figureAt.textContent = found[1];
  track.firstChild.style.width = `${(found[2] * 100).toFixed(1)}%`;
}

/** Bring every ticking figure in line with the time. */
export function tick() {
  for (const one of document.querySelectorAll("[data-since], [data-until]")) {
    const words = figure(one);
    if (one.textContent !== words) one.textContent = words;
    if (one.dataset.until) one.classList.toggle("over", Date.parse(one.dataset.until) <= now());
  }
  for (const one of document.querySelectorAll("[data-steps]")) follow(one);
}

/** Say something to who can't see it. */
export function announce(words, urgent = false) {
  document.getElementById(urgent ? "urgent" : "polite").textContent = words;
}
