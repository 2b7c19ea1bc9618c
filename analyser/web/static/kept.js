// Kept colourways: drawn, filtered by bead and state, side by side, made again, marked, laid in the bin.
import { $, aboutBead, ask, beadLine, drawnRope, fill, h, needs, pairAddress, query, say } from "./kit.js";

const form = $("which");
const states = { idea: "an idea", woven: "woven", sold: "sold" };
const centimetres = (mm) => `${Number((mm / 10).toFixed(1))} cm`;
const at = (one, more = "") => `/api/kept/${encodeURIComponent(one.id)}${more}`;
const ticked = new Set();
const known = new Map(); // by id: what is ticked stays chosen, whatever is shown
form.elements.bead.value = new URLSearchParams(location.search).get("bead") ?? "";

async function mark(one, state) {
  try {
    await ask(at(one, "/state"), { method: "PUT", json: { state } });
    one.state = state;
    say(`${one.name} is ${states[state]} now.`);
  } catch (error) {
    say(error.message);
  }
}

async function bin(one) {
  try {
    const { moved_to } = await ask(at(one), { method: "DELETE" });
    ticked.delete(one.id);
    say(`${one.name} lies in the bin now: ${moved_to}`);
  } catch (error) {
    say(error.message);
  }
  show();
}

const about = (one) => [one.motif, `${one.size}${one.shape === "round" ? "" : ` ${one.shape}`}`, one.length_mm && centimetres(one.length_mm), one.gauge].filter(Boolean).join(" · ");

const words = (role, bead) => [role.split(":")[0], aboutBead(bead), bead.needs && `${bead.needs} beads`].filter(Boolean).join(", ");

/** Counted in another length, and kept in it under another name. */
function again(one) {
  const found = h("div", { "aria-live": "polite" });
  const lengths = () => {
    const { kind, length } = Object.fromEntries(new FormData(inputs));
    return { [kind]: length.trim() };
  };
  const inputs = h("form", { class: "keeping", onsubmit: async (event) => {
    event.preventDefault();
    try {
      const count = await ask(at(one, `/count?${query(lengths())}`));
      fill(found, h("ul", { class: "notes" }, needs(count, one.beads)), h("p", { class: "small" }, `${count.rounds} rounds, ${centimetres(count.length_mm)} with clasp, ${count.thread_m.toFixed(1)} m of thread.`), keep);
    } catch (error) {
      fill(found, h("p", {}, error.message));
    }
  } },
  h("label", {}, "Length", h("input", { name: "length", required: true, value: one.length_mm && one.length_mm < 250 ? "45cm" : "18cm", autocomplete: "off" })),
  h("label", {}, "That is", h("select", { name: "kind" }, h("option", { value: "length" }, "finished, with clasp"), h("option", { value: "wrist" }, "the wrist it is for"), h("option", { value: "neck" }, "the neck it is for"))),
  h("button", {}, "Count it"));
  const keep = h("form", { class: "keeping", onsubmit: async (event) => {
    event.preventDefault();
    const { name } = Object.fromEntries(new FormData(keep));
    try {
      const { file } = await ask(at(one, "/again"), { method: "POST", json: { name, ...lengths() } });
      say(`Kept as ${name}, in ${file}.`);
      show();
    } catch (error) {
      say(error.message);
    }
  } },
  h("label", {}, "Keep it in this length, as", h("input", { name: "name", required: true, maxlength: 100, autocomplete: "off", placeholder: "such as Quay necklace" })),
  h("button", {}, "Keep it"));
  return h("details", { class: "small" }, h("summary", {}, "Again in another length", h("span", { class: "hidden" }, `: ${one.name}`)), inputs, found);
}

/** Where it is looked at closely: a plain pair as such, a plan along its rope. */
function closely(one) {
  const which = { motif: one.motif, size: one.size, length: one.length_mm && `${one.length_mm}mm` };
  const { accent, body, third } = one.beads;
  return one.plan ? `/plan?${query({ kind: "file", plan: one.plan, accent: accent.id, body: body.id, third: third?.id, ...which })}` : pairAddress(one.beads, which);
}

function card(one) {
  const state = h("select", { onchange: (event) => mark(one, event.target.value), "aria-label": `What has become of ${one.name}` },
    Object.entries(states).map(([value, says]) => h("option", { value, selected: value === one.state }, says)));
  const tick = h("input", { type: "checkbox", checked: ticked.has(one.id), onchange: () => { tick.checked ? ticked.add(one.id) : ticked.delete(one.id); showBeside(); } });
  const { accent, body } = one.beads;
  return h("li", {},
    h("h3", {}, one.name),
    h("p", { class: "small" }, `${about(one)} · ${one.made_on}`),
    drawnRope(one),
    h("div", { class: "kept" },
      one.picture ? h("img", { class: "from", src: at(one, "/picture"), alt: `The photo it was made from, ${one.photo.name}`, loading: "lazy" }) : "",
      h("div", {}, Object.entries(one.beads).map(([role, bead]) => beadLine(bead, [h("span", {}, words(role, bead))],
        h("button", { class: "tiny quiet", onclick: () => { form.elements.bead.value = bead.id; show(); } }, "Where else", h("span", { class: "hidden" }, ` is ${bead.name}`)))))),
    one.note ? h("p", {}, one.note) : "",
    h("div", { class: "buttons" }, h("label", { class: "tick" }, tick, "Compare", h("span", { class: "hidden" }, ` ${one.name}`)), state,
      h("a", { class: "button", href: `/api/kept/sheet?${query({ name: one.id })}`, target: "_blank", rel: "noopener" }, "Sheet", h("span", { class: "hidden" }, ` of ${one.name}, to print or send`)),
      accent && body ? h("a", { class: "button", href: closely(one) }, "Closely", h("span", { class: "hidden" }, `: the beads of ${one.name}`)) : "",
      h("button", { onclick: () => bin(one) }, "To the bin", h("span", { class: "hidden" }, `: ${one.name}`))),
    again(one));
}

const DISTANCES = [["0.6", "at arm’s length"], ["1.5", "across a table"], ["4", "across a room"]];

/** Those that are ticked, in columns; the same rows in each. */
function showBeside() {
  const chosen = [...ticked].map((id) => known.get(id)).filter(Boolean);
  $("side").hidden = chosen.length < 1;
  const names = new URLSearchParams(chosen.map((one) => ["name", one.id]));
  $("sheet").href = `/api/kept/sheet?${names}`;
  $("pack").href = `/pack?${names}`;
  $("side-title").textContent = chosen.length > 1 ? "Side by side" : "Chosen: tick another to compare";
  fill($("beside"), chosen.map((one) => h("div", {},
    h("h3", {}, one.name), h("p", { class: "small" }, `${about(one)} · ${states[one.state]}`), drawnRope(one, {}, null, "eager"),
    h("div", { class: "ropes afar" }, DISTANCES.map(([metres, says]) => h("figure", {}, drawnRope(one, { part: "piece", metres }, `${one.name} as left ${says}`, "eager"), h("figcaption", {}, says)))),
    Object.entries(one.beads).map(([role, bead]) => beadLine(bead, [h("span", {}, words(role, bead))])),
    one.note ? h("p", { class: "small" }, one.note) : "")));
}

async function show() {
  const bead = form.elements.bead.value;
  let told;
  try {
    told = await ask(`/api/kept?${query({ bead })}`);
  } catch (error) {
    say(error.message);
    return;
  }
  const state = form.elements.state.value;
  for (const one of told.colourways) known.set(one.id, one);
  const shown = told.colourways.filter((one) => !state || one.state === state);
  fill(form.elements.bead, h("option", { value: "" }, "any"), told.beads.map((one) => h("option", { value: one.id, selected: one.id === bead }, one.name)));
  $("lead").textContent = `They lie in the folder ${told.folder} beside your list: a file and a small picture each.`;
  $("none").hidden = shown.length > 0;
  $("none").textContent = told.beads.length ? "None with that." : "None yet. Open a photo and choose “Keep” under a pair.";
  fill($("kept"), shown.map(card));
  showBeside();
  fill($("faulty"), told.faulty.map((line) => h("li", {}, `Left out: ${line}`)));
}

$("none-ticked").addEventListener("click", () => { ticked.clear(); show(); });
form.addEventListener("change", show);
form.addEventListener("submit", (event) => event.preventDefault());
addEventListener("pageshow", show);
