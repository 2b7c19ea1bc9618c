// The bead drawer: search, edit, book out, bring in, take out, undo.
import { showReading, whenAgreed } from "./list.js";
import { $, aboutBead, ask, asked, beadLine, fill, gaugeKept, h, query, say, send, trouble } from "./kit.js";

const form = $("sought");
let start = 0;
let page = null;
let turn = 0;

async function look() {
  const mine = ++turn;
  let now;
  try {
    now = await ask(`/api/stock?${query({ ...Object.fromEntries(new FormData(form)), start })}`);
  } catch (error) {
    trouble(error.message);
    return;
  }
  if (mine !== turn) return; // a later question has been asked
  page = now;
  options(form.elements.size, page.sizes);
  options(form.elements.finish, page.finishes);
  const to = Math.min(page.start + page.page, page.found);
  $("found").textContent = page.found ? `${page.start + 1} to ${to} of ${page.found} lots${page.found < page.in_all ? `, out of ${page.in_all}` : ""}` : page.in_all ? "No bead answers to that. Search for less." : "The drawer is empty. Photograph your beads, or bring a list in: both further down.";
  fill($("beads-list"), page.rows.map(card));
  $("before").hidden = page.start === 0;
  $("after").hidden = to >= page.found;
  showUndo(page.undo);
  showReading(page, cell);
}

function options(select, values) {
  const chosen = select.value;
  fill(select, h("option", { value: "" }, "any"), values.map((value) => h("option", {}, value)));
  select.value = values.includes(chosen) ? chosen : "";
}

function showUndo(says) {
  $("undo").disabled = !says;
  $("undo-says").textContent = says ?? "";
}

function card(bead) {
  const holder = h("div", {});
  const words = [aboutBead(bead), h("br"), bead.used_up ? "used up, not offered" : bead.quantity ? `${bead.quantity}${bead.beads === null || bead.quantity.includes("bead") ? "" : `, about ${bead.beads} beads`}` : "amount not known"];
  const edit = h("button", { class: "tiny", "aria-expanded": "false", onclick: () => {
    const open = !holder.children.length;
    edit.setAttribute("aria-expanded", open);
    fill(holder, open ? fields(bead) : []);
    if (open) holder.querySelector("input")?.focus();
  } }, "Edit", h("span", { class: "hidden" }, ` ${bead.name}`));
  return h("li", { "data-row": bead.row }, beadLine(bead, words, page.writable ? edit : ""), holder);
}

function fields(bead) {
  return h("form", { "aria-label": `Cells of ${bead.name}`, onsubmit: (event) => event.preventDefault() }, page.headings.map((heading, k) =>
    heading ? h("label", {}, heading, h("input", { value: bead.cells[k], autocomplete: "off", onchange: (event) => change(bead.row, heading, bead.cells[k], event.target.value, event.target) })) : ""));
}

function cell(row, column, value) {
  return h("label", {}, `${column} of row ${row}`, h("input", { value, autocomplete: "off", onchange: (event) => change(row, column, value, event.target.value, event.target) }));
}

async function change(row, column, was, value, input) {
  try {
    const { undo } = await ask("/api/stock/cell", { method: "PATCH", json: { row, column, was, value } });
    trouble(null);
    showUndo(undo);
    say(`Written into your list: ${column} is now ${value ? `“${value}”` : "empty"}.`);
    await look();
    document.querySelector(`[data-row="${row}"] button`)?.focus();
  } catch (error) {
    trouble(error.message);
    input.value = was;
    input.focus();
  }
}

whenAgreed(look);

let soon;
form.addEventListener("input", () => { start = 0; clearTimeout(soon); soon = setTimeout(look, 120); });
form.addEventListener("submit", (event) => event.preventDefault());
$("before").addEventListener("click", () => { start = page.start - page.page; look(); });
$("after").addEventListener("click", () => { start = page.start + page.page; look(); });
$("undo").addEventListener("click", async () => {
  try {
    const { undone } = await ask("/api/stock/undo", { method: "POST" });
    trouble(null);
    say(`Undone: ${undone}.`);
  } catch (error) {
    trouble(error.message);
  }
  look();
});
gaugeKept($("take"));
$("take").addEventListener("submit", async (event) => {
  event.preventDefault();
  const piece = asked(event.target);
  try {
    const { lines, card } = await ask("/api/stock/pieces", { method: "POST", json: piece });
    trouble(null);
    fill($("taken"), h("ul", { class: "notes" }, lines.map((line) => h("li", {}, line.says))), h("pre", { class: "card", "aria-label": "The piece’s card" }, card));
    say("Booked out. Undo takes it back.");
  } catch (error) {
    trouble(error.message);
    $("trouble").scrollIntoView({ block: "center" });
  }
  look();
});
$("bring").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  event.target.value = "";
  if (!file) return;
  try {
    const { added, filled, known, left_out, says } = await ask("/api/stock/rows", { method: "POST", body: file, headers: { "X-File-Name": encodeURIComponent(file.name) } });
    trouble(null);
    fill($("brought"), h("p", {}, `${added.length} ${added.length === 1 ? "lot" : "lots"} added${filled.length ? `, ${filled.length} given their colour` : ""}${known.length ? `, ${known.length} were in your list already` : ""}${left_out.length ? `. Your list has no column for ${left_out.join(", ")}` : ""}.`), says ? h("p", { class: "small" }, says) : "");
  } catch (error) {
    trouble(error.message);
    $("trouble").scrollIntoView({ block: "center" });
  }
  look();
});
for (const input of [$("tray-photo"), $("tray-shot")]) {
  input.addEventListener("change", () => send([...input.files], "tray", (photo) => location.assign(photo.address)));
}
ask("/api/stock/beads").then(({ beads }) => fill($("beads"), beads.map((bead) => h("option", { value: bead.id }, bead.name)))).catch((e) => say(e.message));
look();
