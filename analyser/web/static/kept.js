// Kept colourways: drawn, filtered by bead and state, marked, laid in the bin.
import { $, aboutBead, ask, beadLine, fill, h, query, ropeAddress, say, trouble } from "./kit.js";

const form = $("which");
const states = { idea: "an idea", woven: "woven", sold: "sold" };
const centimetres = (mm) => `${Number((mm / 10).toFixed(1))} cm`;
form.elements.bead.value = new URLSearchParams(location.search).get("bead") ?? "";

async function mark(one, state) {
  try {
    await ask(`/api/kept/${encodeURIComponent(one.id)}/state`, { method: "PUT", json: { state } });
    say(`${one.name} is ${states[state]} now.`);
  } catch (error) {
    say(error.message);
  }
}

async function bin(one) {
  try {
    const { moved_to } = await ask(`/api/kept/${encodeURIComponent(one.id)}`, { method: "DELETE" });
    say(`${one.name} lies in the bin now: ${moved_to}`);
  } catch (error) {
    say(error.message);
  }
  show();
}

function card(one) {
  const { accent, body } = one.beads;
  const about = [one.motif, `${one.size} ${one.shape}`, one.length_mm && centimetres(one.length_mm), one.gauge, one.made_on].filter(Boolean).join(" · ");
  const state = h("select", { onchange: (event) => mark(one, event.target.value), "aria-label": `What has become of ${one.name}` },
    Object.entries(states).map(([value, says]) => h("option", { value, selected: value === one.state }, says)));
  const strip = h("img", { class: "strip", src: ropeAddress(accent, body, { motif: one.motif, size: one.size }), alt: `The rope with ${accent.name} as accent on ${body.name}`, width: 860, height: 130 });
  strip.addEventListener("error", () => strip.replaceWith(h("p", { class: "small faint" }, `The motif ${one.motif} is not one of those that ship, so it is not drawn here.`)));
  return h("li", {},
    h("h3", {}, one.name),
    h("p", { class: "small" }, about),
    strip,
    h("div", { class: "kept" },
      one.picture ? h("img", { class: "from", src: `/api/kept/${encodeURIComponent(one.id)}/picture`, alt: `The photo it was made from, ${one.photo.name}`, loading: "lazy" }) : "",
      h("div", {}, Object.entries(one.beads).map(([role, bead]) => beadLine(bead, [h("span", {}, [role, aboutBead(bead), bead.needs && `${bead.needs} beads`].filter(Boolean).join(", "))],
        h("button", { class: "tiny quiet", onclick: () => { form.elements.bead.value = bead.id; show(); } }, "Where else", h("span", { class: "hidden" }, ` is ${bead.name}`)))))),
    one.note ? h("p", {}, one.note) : "",
    h("p", { class: "buttons" }, state,
      h("a", { class: "button", href: `/pair?${query({ accent: accent.id, body: body.id, motif: one.motif, size: one.size, length: one.length_mm && `${one.length_mm}mm` })}` }, "Count again, in any length"),
      h("button", { onclick: () => bin(one) }, "To the bin", h("span", { class: "hidden" }, `: ${one.name}`))));
}

async function show() {
  const bead = form.elements.bead.value;
  let told;
  try {
    told = await ask(`/api/kept?${query({ bead })}`);
  } catch (error) {
    trouble?.(error.message);
    return;
  }
  const state = form.elements.state.value;
  const shown = told.colourways.filter((one) => one.beads.accent && one.beads.body && (!state || one.state === state));
  fill(form.elements.bead, h("option", { value: "" }, "any"), told.beads.map((one) => h("option", { value: one.id, selected: one.id === bead }, one.name)));
  $("lead").textContent = `They lie in the folder ${told.folder} beside your list: a file and a small picture each.`;
  $("none").hidden = shown.length > 0;
  $("none").textContent = told.beads.length ? "None with that." : "None yet. Open a photo and choose “Keep” under a pair.";
  fill($("kept"), shown.map(card));
  fill($("faulty"), told.faulty.map((line) => h("li", {}, `Left out: ${line}`)));
}

form.addEventListener("change", show);
form.addEventListener("submit", (event) => event.preventDefault());
addEventListener("pageshow", show);
