// Two beads beside each other.
import { $, aboutBead, ask, asked, bars, beadLine, difference, fill, gaugeKept, h, needs, query, ropeAddress, say, showAsked, trouble } from "./kit.js";

const form = $("which");
gaugeKept(form);
let pair = null;

const given = new URLSearchParams(location.search);
// Only what the address names: the form begins with its own defaults, and what was chosen while the page loaded stays.
if (location.search) showAsked(form, { ...asked(form), ...Object.fromEntries(given), reinforced: given.get("reinforced") === "true" });
if (["third", "end", "gauge", "spare", "clasp", "end_bead", "worn_on", "thread", "bead", "role"].some((name) => given.get(name))) form.querySelector(".more").open = true;

const wishes = () => asked(form);

async function judge() {
  const wanted = wishes();
  if (!wanted.accent || !wanted.body) return;
  history.replaceState(null, "", `/pair?${query(wanted)}`);
  try {
    pair = (await ask(`/api/pair?${query(wanted)}`)).pair;
  } catch (error) {
    trouble(error.message);
    $("pair").hidden = true;
    return;
  }
  trouble(null);
  $("pair").hidden = false;
  document.title = `${pair.beads.accent.name} on ${pair.beads.body.name}`;
  draw();
  fill($("chips"), Object.entries(pair.beads).map(([role, bead]) => beadLine(bead, `${role}, ${[aboutBead(bead), bead.hex].filter(Boolean).join(", ")}`)));
  fill($("reasons"), pair.sentences.map((line) => h("li", {}, line)));
  fill($("bars"), bars(pair.bars));
  fill($("figures"), figures());
  $("counted").hidden = !pair.counted;
  if (pair.counted) fill($("count"), h("ul", { class: "notes" }, needs(pair.counted, pair.beads)), h("p", { class: "small" }, `${pair.counted.rounds} rounds, ${pair.counted.thread_m.toFixed(1)} m of thread.`), h("details", { class: "small" }, h("summary", {}, "How it was reckoned"), h("ul", { class: "notes" }, pair.counted.notes.map((note) => h("li", {}, note)))));
}

const figures = () => h("table", {}, h("caption", {}, "What the bars do not show"), h("tbody", {}, pair.figures.map(([name, value]) => h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, value)))));

function draw() {
  if (!pair) return;
  const { motif, size } = wishes();
  const { accent, body } = pair.beads;
  for (const figure of document.querySelectorAll("#ropes figure")) {
    const { metres } = figure.dataset;
    const image = figure.querySelector("img");
    image.src = ropeAddress(pair.beads, { cloth: wishes().worn_on?.startsWith("#") ? wishes().worn_on : null, motif, size, metres, sight: $("sight").value, light: $("light").value });
    image.alt = `${accent.name} on ${body.name} as left at ${metres} metres`;
    const left = pair.seen_contrast[metres];
    figure.querySelector(".left").textContent = left === undefined ? "" : `contrast left in daylight: ${difference(left)}`;
  }
}

form.addEventListener("change", judge);
form.addEventListener("submit", (event) => { event.preventDefault(); judge(); });
$("swap").addEventListener("click", () => {
  const { accent, body } = form.elements;
  [accent.value, body.value] = [body.value, accent.value];
  judge();
});
for (const select of [$("sight"), $("light")]) select.addEventListener("change", draw);
ask("/api/stock/beads").then(({ beads }) => fill($("beads"), beads.map((bead) => h("option", { value: bead.id }, bead.name)))).catch((e) => say(e.message));
judge();
