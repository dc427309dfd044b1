// The views: what the server has worked out, drawn for the driver, the officer and the crew.

import { at, course, el, ticking } from "/draw.js";

const DOINGS = {
  shut: "Shut",
  gate: "Gate",
  open: "Open full",
  close_nozzle: "Nozzle shut",
  flow: "Flowing again",
  charge: "Charge",
};

const nothing = (words) => el("p.nothing", { "data-key": "nothing" }, words);

function part(key, title, ...children) {
  const filled = children.flat().filter(Boolean);
  return filled.length ? el("section.part", { "data-key": key }, el("h2", {}, title), ...filled) : null;
}

const says = (words, label, kind = "button") => el(kind, { "data-say": words, "data-key": `say-${words}` }, label ?? words);

// --- the driver's

/** The pump at a glance from two metres. */
export function driver(board, me) {
  const pump = board?.pumps.find((one) => one.unit === me.unit) ?? null;
  const on = new Set((pump?.lines ?? []).map((line) => line.label.toLowerCase()));
  const ready = me.lines.filter((line) => !on.has(line.toLowerCase()));
  return [
    pump
      ? el("div.at-a-glance", { "data-key": "pump" }, hold(pump), water(pump, board))
      : nothing(board ? "No line is on." : "No incident is open. Charging a line opens one."),
    pump && el("div.lines", { "data-key": "lines" }, pump.lines.map((line) => lineCard(line, pump))),
    part("ready", "Charge a line", ready.length ? el("div.buttons", {}, ready.map((line) => says(`charge ${line.toLowerCase()}`, line[0].toUpperCase() + line.slice(1)))) : null),
    pump && source(pump),
    next(board, "driver"),
    others(board, me),
  ].filter(Boolean);
}

function hold(pump) {
  const flowing = pump.flow;
  if (!pump.hold) return nothing("No line is on.");
  return el(
    "section.hold", { "data-key": "hold", "aria-label": `Hold ${pump.hold} ${pump.hold_unit}` },
    el("p.label", {}, "Hold"),
    el("p.huge", {}, pump.hold, el("span.unit", {}, ` ${pump.hold_unit}`)),
    el("p.label", {}, `${pump.hold_for} · ${flowing}`),
    pump.trouble ? el("p.bad", {}, `Trouble: ${pump.trouble}`) : null,
  );
}

function water(pump, board) {
  const stop = board.closed_at;
  const empty = pump.empty_at;
  const figure = course(pump.tank);
  const left = empty
    ? [el("span.big-figure", {}, ticking("span.count", { until: empty, stop })), el("span.label", {}, " left")]
    : [el("span.label", {}, pump.on_tank ? "nothing flows from it" : `of ${pump.tank_of}`)];
  return el(
    "section.part.water", { "data-key": "water" },
    el("h2", {}, pump.on_tank ? "Tank" : pump.source),
    pump.source_lost ? el("p.bad", {}, "SUPPLY LOST") : null,
    el("div.tank", { class: pump.on_tank ? "tank" : "tank held" }, figure, el("p.left", {}, left)),
    empty ? el("p.label", {}, `Calculated empty about ${at(empty)}. The gauge decides.`) : null,
    pump.intake ? el("p.label", {}, `Intake ${pump.intake}`) : null,
    pump.source_since && !pump.on_tank ? el("p.label", {}, `since ${at(pump.source_since)}; tank holds the figure above`) : null,
    pump.expected ? el("p", {}, `${pump.expected.label} expected about ${at(pump.expected.until)}, in `, ticking("strong", { until: pump.expected.until, stop })) : null,
  );
}

function source(pump) {
  const choices = pump.on_tank ? ["On the hydrant", "Tank's full"] : ["Lost water", "On tank water"];
  return part("source", "Water", el("div.buttons", {}, choices.map((words) => says(words))));
}

function lineCard(line, pump) {
  const touch = (doing) => el("button", {
    "data-touch": doing, "data-unit": pump.unit, "data-line": line.number, "data-label": line.label,
    "data-key": `${doing}-${line.number}`, "aria-label": `${DOINGS[doing]}: ${line.label}`,
  }, DOINGS[doing]);
  return el(
    "article.line", { "data-key": `line-${line.number}-${line.state === "shut"}`, class: `line ${line.state}` },
    el("h3", {}, line.label),
    el("p.line-figures", {}, el("strong", {}, line.state === "shut" ? "shut" : line.psi), line.state === "shut" ? null : el("span", {}, line.flow)),
    el("p.label", {}, [line.state_words, line.place, line.governs && pump.lines.length > 1 ? "governs" : ""].filter(Boolean).join(" · ")),
    el("div.buttons", {}, line.doings.map(touch),
      line.why.length ? el("button", { "data-why": JSON.stringify(line.why), "data-label": line.label, "data-key": `why-${line.number}`, "aria-label": `Why: ${line.label}` }, "Why") : null),
  );
}

function others(board, me) {
  const pumps = (board?.pumps ?? []).filter((one) => one.unit !== me.unit);
  return part("others", "Other pumps", pumps.map((pump) => el("p", { "data-key": pump.unit }, `${pump.name}: ${pump.hold ? `${pump.hold} ${pump.hold_unit}, ${pump.flow}` : "no line on"}, ${pump.source.toLowerCase()}`)));
}

function next(board, role) {
  const coming = (board?.coming ?? []).filter((one) => !role || one.to.includes(role) || one.to.includes("all"));
  const first = coming[0] ?? board?.coming[0];
  if (!first) return null;
  return el("section.part.next", { "data-key": "next" }, el("h2", {}, "Next reminder"),
    el("p", {}, el("strong", {}, "in ", ticking("span", { until: first.at })), ` (${at(first.at)}): ${first.text}`));
}

// --- the officer's

export function officer(board, me, state) {
  if (!board) {
    return [nothing("No incident is open."), questions(state),
      part("begin", "Begin", el("div.buttons.wide", {}, says("On scene"), says("A medical run")))].filter(Boolean);
  }
  return [
    clocks(board),
    questions(state),
    part("marks", "Benchmarks", el("div.marks", {}, board.marks.map(mark))),
    part("inside", "Inside", board.inside.length ? board.inside.map((crew) => crewCard(crew, board)) : [el("p.label", {}, "No entry is open in the log.")]),
    part("par", "PAR", board.par ? board.par.lines.map((line) => el("p", {}, line)) : null,
      el("div.buttons", {}, says("PAR check", "Ask for a PAR"))),
    part("companies", "Companies", board.companies.map((line) => el("p", {}, line))),
    part("patients", "Patients", board.patients.map((line) => el("p", {}, line))),
    next(board, "officer"),
    part("end", "Strategy and end", board.strategy ? el("p", {}, `Strategy: ${board.strategy}`) : null,
      el("div.buttons", {}, board.open ? [says("Going defensive"), says("Command terminated")] : null)),
  ].filter(Boolean);
}

function clocks(board) {
  const stop = board.closed_at;
  return el("section.clocks", { "data-key": "clocks" }, board.clocks.map((one) => el(
    "div.clock", { "data-key": one.label },
    el("p.label", {}, one.label),
    ticking("p.big-figure", { since: one.since, until: one.until, stop }),
    el("p.label", {}, one.note || (one.since ? `since ${at(one.since)}` : `due ${at(one.until)}`)),
  )), board.clocks.length ? null : el("p.label", {}, "No arrival and no dispatch is logged."));
}

function mark(one) {
  if (!one.at) return el("button.mark", { "data-say": one.words, "data-key": one.benchmark }, one.words);
  return el("div.mark.done", { "data-key": one.benchmark }, el("span", {}, el("strong", {}, at(one.at)), ` ${one.words}`),
    el("button", { "data-say": `undo ${one.words.toLowerCase()}`, "aria-label": `Undo: ${one.words}` }, "Undo"));
}

function crewCard(crew, board) {
  const stop = board.closed_at;
  return el("article.crew", { "data-key": crew.crew },
    el("h3", {}, `${crew.crew}${crew.count ? ` (${crew.count})` : ""}`),
    el("p.line-figures", {}, crew.entered_at ? el("strong", {}, ticking("span", { since: crew.entered_at, stop })) : null,
      el("span", {}, crew.gauge ? `${crew.gauge} at ${at(crew.gauge_at)}` : "no gauge reported")),
    el("p", {}, [crew.state, crew.place].filter(Boolean).join(" · ")),
    el("p", {}, `${crew.alarm_words} ${at(crew.alarm_at)}, in `, ticking("strong", { until: crew.alarm_at, stop }), `. Turn around at the latest at ${crew.turn}.`),
    el("p.label", {}, "Estimate: the crew's own gauges and low-air alarms decide."));
}

function questions(state) {
  const open = new Set(state.questions);
  const asked = [...state.entries.values()].filter((entry) => entry.buttons?.some((button) => open.has(questionOf(button))));
  return part("questions", "Open questions", asked.slice(-4).map((entry) => el("div.question", { "data-key": entry.key },
    el("p", {}, entry.text.split("\n").slice(-1)[0].length > 12 ? lastLines(entry.text) : entry.text), buttons(entry, open))));
}

const lastLines = (text) => text.split("\n").slice(-2).join(" ");

/** The number of the question that a button belongs to. */
export const questionOf = (button) => Number(button.id.slice(1).split(":")[0]);

/** A question's choices; those of one that was answered can't be pressed. */
export function buttons(entry, open) {
  return el("div.buttons", {}, entry.buttons.map((button) => el("button", {
    "data-press": button.id, "data-key": button.id, disabled: !open.has(questionOf(button)),
  }, button.label)));
}

// --- the crew's

export function crew(board, me, state) {
  const told = [...state.entries.values()].filter((entry) => entry.kind === "alert" || entry.kind === "reminder").slice(-6).reverse();
  const first = board?.clocks[0];
  return [
    first
      ? el("section.hold", { "data-key": "elapsed" }, el("p.label", {}, first.label), ticking("p.huge", { since: first.since, until: first.until, stop: board.closed_at }), el("p.label", {}, `since ${at(first.since)}`))
      : nothing(board ? "No arrival is logged." : "No incident is open."),
    told.length ? el("section.told", { "data-key": "told" }, el("h2", {}, "Told"), told.map((entry) => el("div.notice", { "data-key": entry.key, class: `notice ${entry.kind}` },
      el("p.label", {}, `${at(entry.at)}${entry.missed ? " · came while this screen was away" : ""}`), el("p", {}, entry.text.split("\n")[0])))) : null,
    board && part("inside", "Inside", board.inside.map((one) => crewCard(one, board))),
    next(board, "crew"),
  ].filter(Boolean);
}
