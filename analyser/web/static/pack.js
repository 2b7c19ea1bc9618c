// Kits of kept colourways: what they take, what is short, their cards; all booked out at once, and undone at once.
import { $, ask, drawnRope, fill, h, say, trouble } from "./kit.js";

const form = $("class");
const asked = new URLSearchParams(location.search).getAll("name");
let kept = [];
let packed = null;
let turn = 0; // an answer that comes after a later question is told no more

const centimetres = (mm) => `${Number((mm / 10).toFixed(1))} cm`;

function wish() {
  const chosen = [...form.querySelectorAll('[name="kits"]')].map((field) => [field.dataset.kept, Number(field.value)]).filter(([, kits]) => kits >= 1);
  if (!chosen.length) return null;
  return { kept: chosen.map(([name]) => name), kits: chosen.map(([, kits]) => kits), spare: Number(form.elements.spare.value) / 100, pack_grams: Number(form.elements.pack_grams.value) };
}

const address = ({ kept: names, kits, spare, pack_grams }) =>
  new URLSearchParams([...names.map((name) => ["kept", name]), ...kits.map((number) => ["kits", number]), ["spare", spare], ["pack_grams", pack_grams]]);

/** A table without the columns in which nothing stands. */
function table(caption, every, all) {
  const told = every.map((_, k) => all.some((cells) => cells[k]));
  const [headings, ...rows] = [every, ...all].map((cells) => cells.filter((_, k) => told[k]));
  return h("table", {}, h("caption", { class: "hidden" }, caption),
    h("thead", {}, h("tr", {}, headings.map((name) => h("th", { scope: "col" }, name)))),
    h("tbody", {}, rows.map((cells) => h("tr", {}, cells.map((cell, k) => h(k ? "td" : "th", k ? {} : { scope: "row" }, cell))))));
}

function verdict(answer) {
  const kits = `${answer.kits} kit${answer.kits === 1 ? "" : "s"}`;
  const lines = answer.missing.map((one) => `${one.colourway ?? ""}: no lot left for the ${one.role} of ${one.kits}`);
  const doubts = answer.unknown.map((one) => `${one.colourway ?? ""}: your list does not say whether a lot holds the ${one.role} of ${one.kits}`);
  if (!lines.length && !doubts.length) return [`Your list serves ${answer.kits === 1 ? "the kit" : `all ${kits}`}, each colour of each kit out of one lot.`];
  return [`${kits}. Short: ${[...lines, ...doubts].join("; ")}.`];
}

async function reckon() {
  const wanted = wish();
  const mine = ++turn;
  $("packed").hidden = !wanted;
  if (!wanted) return;
  const query = address(wanted);
  let answer;
  try {
    answer = await ask(`/api/pack?${query}`);
  } catch (error) {
    if (mine !== turn) return;
    trouble(error.message);
    $("packed").hidden = true;
    return;
  }
  if (mine !== turn) return;
  trouble(null);
  packed = wanted;
  fill($("verdict"), verdict(answer));
  fill($("lots"), table("What the kits take of each lot", ["Bead", "Lot", "Beads", "Holds", "Left"], answer.lots.map((one) => [`${one.name} (${one.id})`, one.lot ?? "", `${one.beads}`, one.have === null ? "not said" : `${one.have}`, one.left === null ? "" : `${one.left}`])));
  fill($("order"), table("Shopping list", ["What", "To buy", "Missing", "Note"], answer.to_buy.map((one) => [one.what, one.packs, one.beads, one.note])));
  for (const kind of ["csv", "xlsx"]) $(`order-${kind}`).href = `/api/pack/order.${kind}?${query}`;
  $("cards").href = `/api/pack/cards?${query}`;
  $("book").disabled = answer.missing.length + answer.unknown.length > 0;
  fill($("notes"), answer.notes.map((note) => h("li", {}, note)));
}

$("book").addEventListener("click", async () => {
  $("book").disabled = true;
  try {
    const { lines } = await ask("/api/pack/book", { method: "POST", json: packed });
    fill($("booked"), h("p", {}, h("b", {}, "Booked out.")), h("ul", { class: "notes" }, lines.map((line) => h("li", {}, line.says))));
    $("undo").hidden = false;
    say("All kits are booked out of your list.");  // what stands above is what was booked: nothing is reckoned anew
  } catch (error) {
    say(error.message);
    reckon();
  }
});

$("undo").addEventListener("click", async () => {
  try {
    const { undone } = await ask("/api/stock/undo", { method: "POST" });
    $("undo").hidden = true;
    fill($("booked"));
    say(`Undone: ${undone}.`);
  } catch (error) {
    say(error.message);
  }
  reckon();
});

function choice(one) {
  return h("li", {}, drawnRope(one, { part: "piece" }),
    h("div", {}, h("b", {}, one.name), h("span", { class: "small" }, [one.motif, one.size, one.length_mm && centimetres(one.length_mm)].filter(Boolean).join(" · "))),
    one.length_mm === null ? h("span", { class: "small" }, "kept without a length: make it again in one first")
      : h("label", { class: "kits" }, "Kits", h("span", { class: "hidden" }, ` of ${one.name}`), h("input", { name: "kits", type: "number", min: 0, max: 100, step: 1, value: asked.includes(one.id) ? 1 : 0, "data-kept": one.id })));
}

form.addEventListener("change", reckon);
form.addEventListener("submit", (event) => { event.preventDefault(); reckon(); });
addEventListener("pageshow", async () => {
  try {
    kept = (await ask("/api/kept")).colourways;
  } catch (error) {
    trouble(error.message);
    return;
  }
  $("none").hidden = kept.length > 0;
  form.hidden = !kept.length;
  fill($("choices"), kept.map(choice));
  reckon();
});
