// A rope from colour to colour: the sentences of the form become a plan, which the server counts and draws.
import { $, ask, fill, gaugeKept, h, openPlan, paint, query, say, trouble } from "./kit.js";

const form = $("which");
gaugeKept(form);
const field = form.elements;
let borders = []; // where stretches meet, as parts of the patterned length
let series = []; // the beads of a fade, from end to end
let told = null;
let asked = ""; // the newest plan; answers to older ones are passed over

const given = new URLSearchParams(location.search);
for (const one of form.elements) {
  if (!one.name || !given.has(one.name)) continue;
  if (one.type === "radio") one.checked = one.value === given.get(one.name);
  else if (one.type === "checkbox") one.checked = given.get(one.name) === "on";
  else one.value = given.get(one.name);
}
if (given.has("series")) series = given.getAll("series");
if (given.has("at")) borders = given.getAll("at").map(Number);

const kind = () => field.kind.value;
const roleField = () => ({ fade: field.role, bands: field.band_role, middle: field.middle_role })[kind()];
const role = () => (kind() === "file" ? null : roleField().value || (kind() === "bands" ? "accent" : "body"));
const text = (name) => field.namedItem(name).value.trim(); // a form's `length` is its own
const bands = () => ["band_1", "band_2", "band_3"].map(text).filter(Boolean);

/** Borders as the numbers of the sentence have them. */
function evenBorders() {
  if (kind() === "fade") {
    const plain = (100 - Math.min(100, Math.max(10, Number(field.over.value)))) / 200;
    return series.map((_, k) => plain + ((1 - 2 * plain) * k) / Math.max(series.length - 1, 1));
  }
  if (kind() === "middle") {
    const half = Math.min(95, Math.max(5, Number(field.part.value))) / 200;
    return [0.5 - half, 0.5 + half];
  }
  return [];
}

const stretch = (lines) => `[[stretch]]\n${lines.join("\n")}\n`;
const bead = (name) => `${role()} = ${JSON.stringify(name)}`;

/** Beads of the roles that stay, for the first stretch: so the plan's file is complete in itself. */
const beside = () => (told?.roles ?? ["accent", "body"]).filter((name) => name !== role() && field.namedItem(name) && text(name)).map((name) => `${name} = ${JSON.stringify(text(name))}`);

/** The plan as its file would be; empty while a bead is missing. */
function planText() {
  const head = `repeat = ${kind() === "bands"}\nmirror = ${field.mirror.checked}\n`;
  // A mirrored plan is told for half of the rope.
  const size = (part) => `share = ${Math.max(0, part).toFixed(5)}`;
  if (kind() === "file") return field.plan.value.trim();
  if (kind() === "bands") {
    const rounds = Math.max(1, Math.round(Number(field.rounds.value)) || 1);
    return bands().length < 2 ? "" : head + bands().map((name, k) => stretch([`rounds = ${rounds}`, bead(name), ...(k ? [] : beside())])).join("");
  }
  if (kind() === "middle") {
    if (!text("middle") || !text("ends")) return "";
    return head + stretch([size(borders[0]), bead(text("ends")), ...beside()]) + stretch([size(borders[1] - borders[0]), bead(text("middle"))]) + stretch([bead(text("ends"))]);
  }
  if (series.length < 2) return "";
  const parts = [stretch([size(borders[0]), bead(series[0]), ...beside()])];
  for (let k = 1; k < series.length; k += 1) {
    parts.push(stretch([size(borders[k] - borders[k - 1]), "fade = true"]));
    parts.push(k === series.length - 1 ? stretch([bead(series[k])]) : stretch([size(0), bead(series[k])]));
  }
  return head + parts.join("");
}

/** Beads for what a file says nothing of; the sentences put theirs into the plan. */
const others = () => (kind() === "file" ? { accent: text("accent"), body: text("body"), third: text("third") } : {});
const wishes = () => ({ plan: planText(), motif: field.motif.value, size: field.size.value, length: text("length"), gauge: text("gauge"), ...others() });

function remember() {
  const kept = new URLSearchParams([...new FormData(form)].map(([name, value]) => [name, value.trim()]).filter(([, value]) => value));
  for (const name of series) kept.append("series", name);
  for (const at of borders) kept.append("at", at.toFixed(4));
  history.replaceState(null, "", `/plan?${kept}`);
}

async function judge() {
  showForm();
  if (borders.length !== evenBorders().length) borders = evenBorders();
  const wanted = wishes();
  $("planned").hidden = !wanted.plan;
  if (!wanted.plan) return;
  remember();
  const address = query(wanted);
  asked = address;
  let answer;
  try {
    answer = await ask(`/api/plan?${address}`);
  } catch (error) {
    if (asked === address) {
      trouble(error.message);
      $("planned").hidden = true;
    }
    return;
  }
  if (asked !== address) return;
  trouble(null);
  told = answer;
  setRoles(told.roles);
  $("planned").hidden = false;
  $("whole").src = `/api/plan/whole?${address}`;
  $("close").src = `/api/plan/close?${address}`;
  $("chart").href = `/api/plan/chart.html?${address}`;
  $("file").href = `/api/plan/plan.toml?${address}`;
  fill($("plan-says"), told.says.map((line) => h("li", {}, line)));
  fill($("needs"), needsTable());
  $("thread").textContent = `${told.rounds} rounds, ${told.thread_m.toFixed(1)} m of thread.`;
  showHandles();
  if (planText() !== wanted.plan) judge(); // the motif has further letters, whose beads are known
}

const NEEDS = ["For", "In the rope", "Set aside", "Weigh out", "In the box"];

function needsTable() {
  const rows = told.beads.map((one) => {
    const key = one.bead === null ? one.role : `${one.role}:${one.bead}`;
    const patch = paint(h("span", { class: "flat tiny-flat" }), told.colours[key]?.css);
    let state = "your list does not say";
    if (one.enough) state = `you have at least ${one.have}`;
    else if (one.short) state = `${one.short} short`;
    else if (one.id === null) state = "not of your list";
    const grams = `${(Math.ceil(one.grams * 10 - 1e-6) / 10).toFixed(1)} g`;
    return h("tr", {}, h("th", { scope: "row" }, patch, " ", told.names[key]), [one.role, one.beads, one.with_spare, grams, state].map((value, k) =>
      h("td", { class: k === 4 && one.short ? "short" : "number", "data-column": NEEDS[k] }, value)));
  });
  return h("table", {}, h("caption", { class: "hidden" }, "Beads of the plan"),
    h("thead", {}, h("tr", {}, ["Bead", ...NEEDS].map((name) => h("th", { scope: "col" }, name)))), h("tbody", {}, rows));
}

// The roles of the motif
function setRoles(roles) {
  for (const select of [field.role, field.band_role, field.middle_role]) {
    const had = select.value || given.get(select.name) || (select === field.band_role ? "accent" : "body");
    if ([...select.options].map((one) => one.value).join() === roles.join()) continue;
    fill(select, roles.map((name) => h("option", { value: name, selected: name === had }, name)));
  }
  for (const name of roles) {
    if (field.namedItem(name)) continue; // a further letter of the motif
    $("motif").before(h("label", { "data-role": name }, name, h("input", { name, list: "beads", autocomplete: "off", value: given.get(name) })));
  }
  for (const label of form.querySelectorAll("[data-role]")) label.hidden = label.dataset.role === role() || !roles.includes(label.dataset.role);
}

function showForm() {
  for (const line of form.querySelectorAll("[data-kind]")) line.hidden = line.dataset.kind !== kind();
  field.mirror.closest("label").hidden = kind() === "file"; // the file says it itself
  setRoles(told?.roles ?? ["accent", "body"]);
  const inner = kind() === "fade" ? series.slice(1, -1) : [];
  $("between").hidden = !inner.length;
  if ([...$("between").querySelectorAll("input")].map((one) => one.value).join("\n") !== inner.join("\n")) {
    fill($("between"), h("span", { class: "small" }, "Between them, chosen for even steps; put in others if you like:"),
      inner.map((name, k) => h("input", { list: "beads", value: name, autocomplete: "off", "aria-label": `Bead ${k + 2} of the fade`, onchange: (event) => { event.stopPropagation(); series[k + 1] = event.target.value.trim() || series[k + 1]; judge(); } })));
  }
}

// The beads between two, chosen by the server
async function choose() {
  if (kind() !== "fade" || !text("from") || !text("to")) return judge();
  try {
    const found = await ask(`/api/plan/series?${query({ first: text("from"), last: text("to"), count: field.steps.value, motif: field.motif.value, size: field.size.value, length: text("length"), role: role() })}`);
    const inner = found.beads.slice(1, -1).map((one) => one.text);
    series = [text("from"), ...inner, text("to")];
  } catch (error) {
    series = [text("from"), text("to")];
    say(error.message);
  }
  borders = evenBorders();
  return judge();
}

// Borders to drag
function labelOf(k) {
  if (kind() === "bands") return "End of the first band";
  if (kind() === "middle") return k ? "End of the middle" : "Start of the middle";
  if (k === 0) return "Start of the fade";
  return k === series.length - 1 ? "End of the fade" : `Where all is ${told.names[`${role()}:${series[k]}`] ?? series[k]}`;
}

const mirrored = () => field.mirror.checked;
const placesOf = () => (kind() === "bands" ? [Number(field.rounds.value) / told.rounds] : borders.map((at) => (mirrored() ? at / 2 : at)));

function showHandles() {
  const places = placesOf();
  $("strip-how").hidden = !places.length;
  const { from, to } = told.drawn;
  const drawn = [...$("handles").children];
  if (drawn.length !== places.length) fill($("handles"), places.map((_, k) => handle(k)));
  [...$("handles").children].forEach((one, k) => {
    one.style.insetInlineStart = `${100 * (from + (to - from) * places[k])}%`;
    const round = Math.round(places[k] * told.rounds);
    one.setAttribute("aria-valuemax", told.rounds);
    one.setAttribute("aria-valuenow", round);
    one.setAttribute("aria-valuetext", `after round ${round} of ${told.rounds}`);
    one.setAttribute("aria-label", labelOf(k));
  });
}

function move(k, place) {
  const least = 1 / told.rounds;
  if (kind() === "bands") {
    field.rounds.value = Math.min(400, Math.max(1, Math.round(place * told.rounds)));
  } else {
    const scale = mirrored() ? 2 : 1;
    const low = k ? borders[k - 1] + least : 0;
    const high = k < borders.length - 1 ? borders[k + 1] - least : 1;
    borders[k] = Math.min(high, Math.max(low, place * scale));
    if (kind() === "middle") field.part.value = Math.round(100 * (borders[1] - borders[0]));
  }
  showHandles();
}

let pause;
const soon = () => { clearTimeout(pause); pause = setTimeout(judge, 90); };

function handle(k) {
  const made = h("div", { class: "border", role: "slider", tabindex: 0, "aria-orientation": "horizontal", "aria-valuemin": 0 });
  const placeOf = (event) => {
    const seen = $("strip").getBoundingClientRect();
    return ((event.clientX - seen.left) / seen.width - told.drawn.from) / (told.drawn.to - told.drawn.from);
  };
  made.addEventListener("pointerdown", (event) => { made.setPointerCapture(event.pointerId); made.focus(); event.preventDefault(); });
  made.addEventListener("pointermove", (event) => {
    if (!made.hasPointerCapture(event.pointerId)) return;
    move(k, placeOf(event));
    soon();
  });
  made.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -5, PageUp: 5 }[event.key];
    if (!step) return;
    event.preventDefault();
    const rounds = Math.round(placesOf()[k] * told.rounds);
    move(k, (rounds + step * (event.shiftKey ? 5 : 1)) / told.rounds);
    soon();
  });
  return made;
}

form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("change", (event) => {
  const { name } = event.target;
  if (name === "motif") told = null; // its roles are not known yet
  if (["from", "to", "steps", "size"].includes(name)) choose();
  else {
    if (name === "kind" && kind() === "file" && !text("plan")) field.plan.value = new URLSearchParams(asked).get("plan") ?? "";
    if (["over", "part", "kind"].includes(name)) borders = evenBorders();
    if (name === "kind" && kind() === "fade" && series.length < 2) choose();
    else judge();
  }
});

openPlan($("plan-file"), field.plan, judge);

/** Where nothing was asked for yet, beads to begin with: a dark one, a light one, and one between. */
async function begin() {
  const { rows } = await ask(`/api/stock?${query({ sort: "dark", size: field.size.value })}`);
  const mine = rows.filter((one) => one.lab && !one.used_up).map((one) => one.id);
  if (mine.length < 3) return;
  const [first, middle, last] = [mine[0], mine[Math.floor(mine.length / 2)], mine[mine.length - 1]];
  const begun = { from: first, to: last, band_1: last, band_2: middle, middle: last, ends: first, accent: middle, body: first };
  for (const [name, value] of Object.entries(begun)) if (!text(name)) field.namedItem(name).value = value;
}

async function start() {
  const { beads } = await ask("/api/stock/beads");
  fill($("beads"), beads.map((one) => h("option", { value: one.id }, one.name)));
  await begin();
  showForm();
  await (kind() === "fade" && series.length < 2 ? choose() : judge());
}
start().catch((error) => say(error.message));
