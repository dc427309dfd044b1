// The page: joins, shows a view beside the conversation, and hands on what is said.

import { buttons, crew, driver, officer, questionOf } from "/boards.js";
import { announce, at, el, layChildren, setZone, span, tick } from "/draw.js";
import { Link, forget } from "/link.js";
import { HandsFree, Holding } from "/listen.js";
import { Player } from "/replay.js";
import { made, silence, sound, speak, stayAwake, unlock, whileSpeaking } from "/sound.js";

const $ = (id) => document.getElementById(id);
const VIEWS = { driver, officer, crew };
const LOUD = /mayday|evacuat/i;
const SHOWN = 150;

const state = { entries: new Map(), questions: [], board: null };
let me = null;
let link = null;
let player = null;
let view = localStorage.getItem("crosslay.view") ?? "";
let spoke = new Set(); // messages that were spoken here: their answers are spoken too
let aloud = localStorage.getItem("crosslay.aloud") === "on";
let handsFree = null;
let unread = 0;

// --- at the door

async function begin() {
  theme(localStorage.getItem("crosslay.theme") ?? "device");
  const code = location.hash.slice(1).replace(/\D/g, "");
  if (location.hash) history.replaceState(null, "", "/");
  let inside = false;
  try {
    inside = (await (await fetch("/me")).json()).in;
  } catch {
    inside = true; // the box isn't there just now: what was said is kept, and it is tried again
  }
  if (inside && !code) start();
  else knock(code, inside);
}

function knock(code) {
  $("door").hidden = false;
  $("code").value = code;
  let looked = null;
  $("join").onsubmit = async (event) => {
    event.preventDefault();
    $("door-why").textContent = "";
    const wanted = $("code").value.replace(/\D/g, "");
    try {
      if (looked !== wanted) {
        const found = await post("/look", { code: wanted });
        looked = wanted;
        $("door-who").hidden = false;
        $("door-go").textContent = "Join";
        $("unit-choice").hidden = found.units.length < 2 && !found.guest;
        $("units").replaceChildren(...found.units.map(({ unit, name }, place) => el("label.choice", {},
          el("input", { type: "radio", name: "unit", value: unit, checked: place === 0 }), ` ${name}`)));
        $("name").value = localStorage.getItem("crosslay.name") ?? "";
        $("name").focus();
        return;
      }
      const chosen = (name) => document.querySelector(`input[name=${name}]:checked`)?.value ?? "";
      await post("/join", { code: wanted, name: $("name").value, unit: chosen("unit"), role: chosen("role") });
      localStorage.setItem("crosslay.name", $("name").value);
      localStorage.setItem("crosslay.view", (view = chosen("role")));
      forget();
      unlock();
      $("door").hidden = true;
      start();
    } catch (error) {
      looked = error.again ? null : looked;
      $("door-why").textContent = error.message;
    }
  };
  if (code) $("join").requestSubmit();
  else $("code").focus();
}

async function post(path, what) {
  let answer;
  try {
    answer = await fetch(path, { method: "POST", body: JSON.stringify(what), headers: { "content-type": "application/json" } });
  } catch {
    throw new Error("The rig's box can't be reached: are you in its network?");
  }
  const found = await answer.json().catch(() => ({}));
  if (!answer.ok) throw Object.assign(new Error(found.why ?? "That didn't work: try again."), { again: answer.status === 403 });
  return found;
}

// --- inside

function start() {
  $("app").hidden = false;
  link = new Link(heard, drawLink);
  const live = () => link.now();
  player = new Player(live, draw);
  link.open();
  setInterval(everything, 250);
  new Holding($("press"), voice, ear);
  handsFree = new HandsFree((samples) => link.sound(samples), ear);
  whileSpeaking((on) => link.tell({ type: "speaking", on }));
  awake();
  document.addEventListener("visibilitychange", awake);
  for (const name of ["pointerdown", "keydown"]) document.addEventListener(name, unlock);
  draw();
}

function everything() {
  tick();
}

async function awake() {
  $("awake").textContent = await stayAwake();
}

function heard(message) {
  switch (message.type) {
    case "welcome":
      welcome(message);
      break;
    case "board":
      state.board = message.board;
      state.questions = message.questions;
      draw();
      break;
    case "entry":
      add(message.entry, false);
      draw();
      break;
    case "you":
      me.role = message.role;
      me.leads = message.leads;
      drawMe();
      break;
    case "people":
      drawPeople(message.people);
      break;
    case "code":
      drawCode(message);
      break;
    case "ear":
      heardEar(message);
      break;
    case "not_spoken":
      for (const entry of state.entries.values()) if (entry.message === message.message) silence(Number(entry.key.slice(1)));
      break;
    case "refused":
      if (!message.id) ear(message.why);
      draw();
      break;
    case "taken":
      draw();
      break;
    case "out":
      location.reload();
      break;
  }
}

function welcome(message) {
  const again = me !== null;
  const before = state.entries;
  me = message;
  setZone(message.zone);
  view ||= VIEWS[message.role] ? message.role : "crew";
  state.entries = new Map();
  for (const entry of message.entries) {
    const known = before.get(entry.key);
    state.entries.set(entry.key, entry.kind === "said" ? entry : (known ?? entry));
    if (again && !known) fresh(entry, true);
  }
  state.board = message.board;
  state.questions = message.questions;
  if (handsFree.on) link.tell({ type: "handsfree", on: true });
  drawMe();
  draw();
}

function add(entry) {
  if (state.entries.has(entry.key)) {
    if (entry.kind === "said") state.entries.set(entry.key, entry); // now with the words that it was heard as
    return;
  }
  state.entries.set(entry.key, entry);
  while (state.entries.size > SHOWN) state.entries.delete(state.entries.keys().next().value);
  fresh(entry, false);
}

/** Something that this screen hasn't shown before. `away`: it came while the screen wasn't connected. */
function fresh(entry, away) {
  if (entry.kind === "said") return;
  entry.missed = away && entry.kind !== "reply";
  const urgent = entry.kind === "alert";
  announce(entry.text.split("\n")[0], urgent);
  if (view !== "talk" && !matchMedia("(min-width: 900px)").matches) unread += 1;
  if (urgent) {
    if (player.what) player.over();
    sound(LOUD.test(entry.name + entry.text) ? "loud" : "alert");
  } else if (entry.kind === "reminder") sound("reminder");
  const number = Number(entry.key.slice(1));
  const mine = spoke.has(entry.message) || (handsFree.on && entry.message?.startsWith(`${tail()}-h`));
  if (!away && ((entry.kind === "reply" && mine) || aloud || (urgent && handsFree.on))) speak(number);
}

const tail = () => me.person.split("/").at(-1);

function voice(recording) {
  const id = link.say("voice", { sound: recording }, "(spoken)");
  spoke.add(`${tail()}-${id}`);
  draw();
}

function say(text) {
  if (player.what) return;
  link.say("say", { text }, text);
  draw();
}

// --- drawing

function draw() {
  const replaying = Boolean(player?.what);
  document.body.classList.toggle("replaying", replaying);
  const board = replaying ? player.board : state.board;
  const shown = replaying ? { entries: new Map(player.entries.map((one) => [one.key, one])), questions: [] } : state;
  if (me) layChildren($("view"), (VIEWS[view] ?? (() => []))(board, me, shown));
  $("app").dataset.view = view;
  for (const tab of $("tabs").children) {
    if (tab.dataset.view === view) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }
  drawTop(board, replaying);
  drawTalk(shown, replaying);
  drawLatest(shown);
  drawPlayer(replaying);
  if (view === "talk") unread = 0;
  $("unread").hidden = !unread;
  $("unread").textContent = unread ? ` ${unread}` : "";
  drawLink();
  tick();
}

function drawTop(board, replaying) {
  const title = replaying ? `REPLAY ${player.what.title}` : board ? board.title || board.incident : "No incident";
  $("title").textContent = title + (board?.closed_at && !replaying ? ` · closed ${at(board.closed_at)}` : "");
  const first = board?.clocks.find((one) => one.since);
  layChildren($("elapsed"), first ? [el("span", { "data-since": first.since, "data-stop": board.closed_at }, "")] : []);
  const alert = $("alert");
  alert.hidden = !board?.alert;
  if (board?.alert) {
    layChildren(alert, [el("strong", {}, board.alert), board.alert_since ? el("span", { "data-since": board.alert_since, "data-key": "since" }, "") : "",
      el("span", {}, "Use the radio: this page doesn't transmit.")].filter(Boolean));
  } else alert.replaceChildren();
}

function drawMe() {
  $("me").textContent = [me.name, me.role, me.unit_name + (me.guest ? " (guest)" : "")].filter(Boolean).join(" · ") + (me.demonstration ? " · demonstration rig" : "");
  $("replays-open").hidden = me.guest;
  $("people-open").hidden = me.guest;
  $("new-code").hidden = !me.leads;
}

function drawLink() {
  const lost = link?.lostFor ?? null;
  $("lost").hidden = lost === null;
  const waiting = link?.pending.filter((one) => !one.why).length ?? 0;
  if (lost !== null) $("lost").textContent = `No connection to the rig's box for ${lost} s.${waiting ? ` ${waiting} kept to be sent.` : " What you say is kept."} Figures count on from what was last heard.`;
}

function drawTalk(shown, replaying) {
  const list = $("entries");
  const low = list.parentElement.scrollHeight - list.parentElement.scrollTop - list.parentElement.clientHeight < 80;
  const open = new Set(shown.questions);
  const rows = [...shown.entries.values()].map((entry) => row(entry, open));
  const known = new Set([...shown.entries.values()].map((entry) => entry.message));
  const kept = replaying || !me ? [] : link.pending.filter((one) => !known.has(`${tail()}-${one.message.id}`));
  layChildren(list, [...rows, ...kept.map(pendingRow)]);
  if (low) list.parentElement.scrollTop = list.parentElement.scrollHeight;
}

/** A message's first line; of one that begins with what was heard, the answer's too. */
function leadOf(text) {
  const [first, second] = text.split("\n");
  return first.startsWith("Heard: ") && second ? `${second} (${first})` : first;
}

/** What was told last, where the conversation isn't beside the board; with its choices while they are open. */
function drawLatest(shown) {
  const told = [...shown.entries.values()].filter((entry) => entry.kind !== "said").at(-1);
  const latest = $("latest");
  const waiting = link.pending.find((one) => one.why);
  latest.hidden = !told && !waiting;
  const open = new Set(shown.questions);
  const asks = told?.buttons?.some((button) => open.has(questionOf(button)));
  layChildren(latest, [
    waiting && el("p.bad", { "data-key": "why" }, waiting.why),
    told && el("p.lead", { "data-key": "lead" }, asks ? told.text : leadOf(told.text)),
    asks && buttons(told, open),
  ].filter(Boolean));
}

function row(entry, open) {
  const mine = me && entry.person === me.person;
  const lead = leadOf(entry.text);
  const rest = entry.text.split("\n").slice(lead.endsWith(")") && entry.text.startsWith("Heard: ") ? 2 : 1);
  const words = entry.kind === "said" ? [el("p", {}, entry.recorded && !entry.text ? "(spoken)" : entry.text)] : [el("p.lead", {}, lead), rest.length ? el("p.rest", {}, rest.join("\n")) : null];
  const head = entry.kind === "said" ? `${entry.who || "somebody"} · ${at(entry.at)}${entry.recorded && entry.text ? " · as heard" : ""}` : `${{ reply: "", reminder: "Reminder · ", alert: "ALERT · ", notice: "" }[entry.kind] ?? ""}${at(entry.at)}`;
  return el("li", { class: `entry ${entry.kind}${mine ? " mine" : ""}`, "data-key": entry.key },
    el("p.label", {}, head, late(entry), entry.missed ? el("strong", {}, " · came while this screen was away") : null),
    ...words,
    entry.file ? el("a.file", { href: `/file/${entry.key.slice(1)}`, target: "_blank", rel: "noopener" }, "Open what is attached") : null,
    entry.buttons?.length ? buttons(entry, open) : null);
}

/** A reminder that no screen took at its time says so. */
function late(entry) {
  const marked = entry.text.startsWith("(");
  const since = entry.due_at ? Date.parse(entry.at) - Date.parse(entry.due_at) : 0;
  return since > 5000 && !marked ? el("strong", {}, ` · late: due ${at(entry.due_at)}`) : null;
}

function pendingRow(one) {
  const state = one.why ?? (link.lostFor === null ? "being sent" : "kept: sent when the box is back");
  return el("li.entry.said.mine.pending", { "data-key": `p${one.message.id}` }, el("p.label", {}, state), el("p", {}, one.shown),
    one.why ? el("button", { "data-drop": one.message.id }, "Take it away") : null);
}

function drawPeople(people) {
  $("people-list").replaceChildren(...people.map((one) => el("li", {},
    el("span", {}, el("strong", {}, one.name), ` ${[one.role, one.unit, one.guest ? "guest" : ""].filter(Boolean).join(", ")}`, el("span.label", {}, one.here ? " · here" : " · no screen just now")),
    me.leads || one.person === me.person ? el("button", { "data-out": one.person, "aria-label": `Remove ${one.name}` }, "Remove") : null)));
}

function drawCode({ code, url, svg, until }) {
  const picture = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
  picture.setAttribute("role", "img");
  picture.setAttribute("aria-label", "QR code of the address with the code");
  picture.setAttribute("class", "qr");
  $("code-shown").hidden = false;
  $("code-shown").replaceChildren(document.importNode(picture, true), el("p", {}, "Code ", el("strong", {}, code), ` at ${url.split("#")[0]}`), el("p.small", {}, `For one phone, until ${at(until)}.`));
}

function drawPlayer(replaying) {
  $("player").hidden = !replaying;
  $("say").hidden = replaying;
  if (!replaying) return;
  const { start, end } = player;
  const slide = $("slide");
  slide.max = Math.floor((end - start) / 1000);
  if (document.activeElement !== slide || player.playing) slide.value = player.seconds;
  slide.setAttribute("aria-valuetext", span(player.seconds * 1000));
  $("moment").textContent = `${at(player.start + player.seconds * 1000)} · ${span(player.seconds * 1000)} of ${span(end - start)}`;
  $("play").textContent = player.playing ? "❚❚" : "▶";
  $("play").setAttribute("aria-label", player.playing ? "Pause" : "Play");
  layChildren($("ticks"), player.what.marks.map(([words, time]) => {
    const made = el("span", { "data-key": words + time });
    made.style.left = `${((Date.parse(time) - start) / (end - start)) * 100}%`;
    return made;
  }));
  for (const [place, made] of [...$("ticks").children].entries()) made.style.left = `${((Date.parse(player.what.marks[place][1]) - start) / (end - start)) * 100}%`;
  layChildren($("mark-row"), player.what.marks.map(([words, time]) => el("button", { "data-go": (Date.parse(time) - start) / 1000, "data-key": words + time }, `${at(time)} ${words}`)));
}

function ear(words) {
  $("ear").hidden = !words;
  $("ear").textContent = words;
}

function heardEar({ state: how, words }) {
  const told = {
    on: words ? `Hands-free: say “${words}” first.` : "Hands-free: everything said is taken.",
    off: "",
    called: "Go ahead.",
    left: words ? `(without the call name: ${words})` : "",
    cut: words ? `(not taken: ${words})` : "",
    gone: words,
  };
  ear(told[how] ?? "");
}

function theme(which) {
  localStorage.setItem("crosslay.theme", which);
  if (which === "device") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = which;
  $("theme").textContent = `Contrast: ${{ device: "as the device", light: "day", dark: "night" }[which]}`;
  $("theme").dataset.which = which;
}

// --- touches

document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  const { dataset } = button;
  if ("close" in dataset) button.closest("dialog").close();
  if (dataset.view) show(dataset.view);
  if (dataset.say) say(dataset.say);
  if (dataset.press && !player.what) link.say("press", { button: dataset.press }, button.textContent);
  if (dataset.drop) {
    link.drop(dataset.drop);
    draw();
  }
  if (dataset.out) link.tell({ type: "put_out", person: dataset.out });
  if (dataset.go) player.go(Number(dataset.go));
  if (dataset.why) why(dataset.label, JSON.parse(dataset.why));
  if (dataset.touch && !player.what) touch(dataset);
});

function show(which) {
  view = which;
  localStorage.setItem("crosslay.view", view);
  draw();
  if (view === "talk") $("talk").scrollTop = $("talk").scrollHeight;
}

function why(label, lines) {
  $("why-title").textContent = `Why: ${label}`;
  $("why-list").replaceChildren(...lines.map((line) => el("li", {}, line)));
  $("why").showModal();
}

let gating = null;

function touch({ touch: doing, unit, line, label }) {
  const fields = { unit, line: Number(line), doing };
  const words = `${{ shut: "Shut", gate: "Gate", open: "Open full", close_nozzle: "Nozzle shut", flow: "Flowing again", charge: "Charge" }[doing]}: ${label}`;
  if (doing !== "gate") {
    link.say("touch", fields, words);
    draw();
    return;
  }
  gating = { fields, words };
  $("gate-title").textContent = `Gate ${label} to`;
  $("gate-amount").textContent = "";
  const pump = state.board.pumps.find((one) => one.unit === unit);
  $("gate-unit").textContent = pump.flow.split(" ").at(-1);
  $("gate").showModal();
}

$("pad").append(...["1", "2", "3", "4", "5", "6", "7", "8", "9", "⌫", "0"].map((key) => el("button", { "data-digit": key, "aria-label": key === "⌫" ? "Delete" : key }, key)));
$("pad").onclick = ({ target }) => {
  const digit = target.dataset?.digit;
  if (!digit) return;
  const shown = $("gate-amount").textContent;
  $("gate-amount").textContent = digit === "⌫" ? shown.slice(0, -1) : (shown + digit).slice(0, 5).replace(/^0/, "");
};
$("gate").addEventListener("keydown", ({ key }) => {
  if (/^\d$/.test(key)) $("gate-amount").textContent = ($("gate-amount").textContent + key).slice(0, 5).replace(/^0/, "");
  if (key === "Backspace") $("gate-amount").textContent = $("gate-amount").textContent.slice(0, -1);
});
$("gate-go").onclick = () => {
  const amount = Number($("gate-amount").textContent);
  $("gate").close();
  if (!amount) return;
  link.say("touch", { ...gating.fields, amount }, `${gating.words} to ${amount} ${$("gate-unit").textContent}`);
  draw();
};

$("type").onsubmit = (event) => {
  event.preventDefault();
  const text = $("text").value.trim();
  if (!text) return;
  $("text").value = "";
  say(text);
};

$("menu-button").onclick = () => $("menu").showModal();
$("theme").onclick = () => theme({ device: "light", light: "dark", dark: "device" }[$("theme").dataset.which]);
$("aloud").onclick = () => {
  aloud = !aloud;
  localStorage.setItem("crosslay.aloud", aloud ? "on" : "off");
  drawAloud();
};
function drawAloud() {
  $("aloud").setAttribute("aria-pressed", aloud);
  $("aloud").textContent = `Speak every answer: ${aloud ? "on" : "off"}`;
}
drawAloud();
$("handsfree").onclick = async () => {
  if (handsFree.on) handsFree.end();
  else await handsFree.begin();
  link.tell({ type: "handsfree", on: handsFree.on });
  $("handsfree").setAttribute("aria-pressed", handsFree.on);
  $("handsfree").textContent = `Hands-free: ${handsFree.on ? "on" : "off"}`;
};
$("people-open").onclick = () => {
  $("menu").close();
  $("code-shown").hidden = true;
  link.tell({ type: "who" });
  $("people").showModal();
};
$("new-code").onclick = () => link.tell({ type: "new_code" });
$("leave").onclick = async () => {
  await post("/leave", {}).catch(() => {});
  location.reload();
};
$("replays-open").onclick = async () => {
  $("menu").close();
  const found = await (await fetch("/replays")).json().catch(() => []);
  const rows = found.map(({ id, title, begin: began, minutes }) => el("li", {}, el("button", { "data-replay": id }, began ? `${title} · ${at(began)}, ${minutes} min` : `Drill: ${title}`)));
  $("replays-list").replaceChildren(...(rows.length ? rows : [el("li", {}, "No incident is finished yet.")]));
  $("replays").showModal();
};
$("replays-list").onclick = async ({ target }) => {
  const id = target.dataset?.replay;
  if (!id) return;
  const answer = await fetch(`/replay/${encodeURIComponent(id)}`);
  $("replays").close();
  if (answer.ok) player.begin(await answer.json());
  $("speed").value = "10";
};
$("play").onclick = () => {
  if (!player.playing && player.moment >= player.end) player.go(0);
  player.playing = !player.playing;
  draw();
};
$("speed").onchange = () => (player.speed = Number($("speed").value));
$("slide").oninput = () => player.go(Number($("slide").value));
$("player-end").onclick = () => player.over();

/** For tests: what was sounded, and what is kept. */
globalThis.crosslay = { made, state, pending: () => link.pending };

// another code in the same tab: a new beginning
addEventListener("hashchange", () => location.reload());

begin();
