// A tray photo: its heaps, each a bead that is in the list already or a new one.
import { $, ask, asked as wishesOf, cardQuestion, chip, difference, fill, follow, h, numeral, paint, say, showAsked, stages, thin } from "./kit.js";

const id = $("tray").dataset.photo;
const showStage = stages(id, () => waiting);
const SHOWN = 24; // of the list in each heap's picker; the rest is found by typing
const NEW = "new";
const OTHER = "other";
let result = null;
let picks = null;
let noCard = false;
let written = false; // what is left after that is left out unless it is said

async function show(told) {
  showStage(told);
  $("name").textContent = told.name;
  if (!told.result) return;
  result = told.result;
  try {
    picks = await ask(`/api/photos/${id}/picks`);
  } catch (error) {
    say(error.message);
    return;
  }
  $("measured").hidden = false;
  $("sure").textContent = result.calibration.says;
  showAsked($("light"), told.wishes);
  noCard = told.wishes.no_card;
  cardQuestion(id, result.calibration, told.wishes, () => waiting.again());
  $("picture").src = `/api/photos/${id}/picture?${told.version}`;
  $("columns").textContent = picks.says ? `${picks.says[0].toUpperCase()}${picks.says.slice(1)}.` : "";
  fill($("all-beads"), picks.beads.map((bead) => h("option", { value: label(bead) })));
  fill($("pile-list"), result.piles.map(card));
  fill($("notes"), [...result.photo.notes, ...result.calibration.notes, ...result.notes].map((note) => h("li", {}, note)));
}

$("light").addEventListener("submit", async (event) => {
  event.preventDefault();
  const { calibration, card, even_light } = wishesOf(event.target);
  try {
    show(await ask(`/api/photos/${id}/light`, { method: "PUT", json: { calibration, card, even_light, no_card: noCard && !card } }));
  } catch (error) {
    say(error.message);
  }
});

const label = (bead) => [bead.name, bead.id === bead.name ? null : bead.id, bead.size, bead.lot ? `lot ${bead.lot}` : null, `row ${bead.row}`].filter(Boolean).join(", ");
const byRow = (row) => picks.beads.find((bead) => bead.row === row);

function card(pile) {
  const made = pile.name.replaceAll(" ", "-");
  const same = result.piles.filter((other) => other.number < pile.number && other.name === pile.name).length;
  const own = `${made}${same ? `-${same + 1}` : ""}`;
  const rows = picks.piles.find((one) => one.number === pile.number).rows.slice(0, SHOWN).map(byRow);
  const empty = rows.filter((bead) => bead.empty);
  const known = rows.filter((bead) => !bead.empty);
  const beads = (name, list) => (list.length ? h("optgroup", { label: name }, list.map((bead) => h("option", { value: bead.row }, label(bead)))) : "");
  const about = h("div", { class: "about-pile" });
  const picker = h("select", { "aria-label": `Pile ${pile.number} is`, onchange: () => detail(pile, picker, about, own) },
    h("option", { value: "" }, empty.length && !written ? "choose the bead …" : "leave it out"),
    h("option", { value: NEW }, "a new bead"),
    beads("In your list, without a colour", empty), beads("In your list, with a colour", known),
    picks.beads.length > rows.length ? h("option", { value: OTHER }, "another of your list …") : "");
  if (!empty.length && !written) picker.value = NEW;
  const made_of = h("li", { class: "pile", "data-number": pile.number },
    h("img", { src: `/api/photos/${id}/close-up?x=${pile.centre[0]}&y=${pile.centre[1]}&side=${2.6 * pile.radius}`, alt: `Pile ${pile.number}`, width: 480, height: 480, loading: "lazy" }),
    h("div", { class: "measured" }, chip(pile, pile.name),
      h("p", { class: "small" }, h("b", {}, `${pile.number} · ${pile.name}`), `${pile.hex}, sure to ±${difference(pile.uncertainty_de00)}; looks ${pile.finish}`)),
    h("label", {}, "It is", picker), about);
  detail(pile, picker, about, own);
  return made_of;
}

/** What is asked once it is said which bead a pile is. */
function detail(pile, picker, about, own) {
  if (picker.value === NEW) {
    fill(about, ["id", "name", "lot"].map((name) => h("label", {}, name, h("input", { name, value: { id: own, name: own.replaceAll("-", " "), lot: "" }[name], autocomplete: "off" }))));
  } else if (picker.value === OTHER) {
    const typed = h("input", { list: "all-beads", autocomplete: "off", onchange: () => {
      const bead = picks.beads.find((one) => label(one) === typed.value);
      typed.setCustomValidity(bead ? "" : "Choose one of the list.");
      about.dataset.row = bead?.row ?? "";
      fill(rest, bead ? asked(pile, bead) : []);
    } });
    const rest = h("div", {});
    about.dataset.row = "";
    fill(about, h("label", {}, "Which one", typed), rest);
    typed.focus();
  } else {
    fill(about, picker.value ? asked(pile, byRow(Number(picker.value))) : []);
  }
}

function asked(pile, bead) {
  if (bead.empty) return [h("p", { class: "small faint" }, "Its colour is filled in; size, lot and amount stay.")];
  return [h("p", { class: "twin" }, paint(h("span", { class: "flat", role: "img", "aria-label": `its colour now, ${bead.hex}` }), bead.css), paint(h("span", { class: "flat", role: "img", "aria-label": `the pile's, ${pile.hex}` }), pile.css)),
    h("label", { class: "tick" }, h("input", { type: "checkbox", name: "replace" }), `replace its colour ${bead.hex}; the old one stays in its notes`)];
}

function marks() {
  const { width, height } = result.photo;
  $("marks").setAttribute("viewBox", `0 0 ${width} ${height}`);
  const unit = width / Math.max($("picture").clientWidth, 1);
  fill($("marks"), result.piles.flatMap((pile) => [
    ...thin(`M${pile.outline.map((point) => point.join(" ")).join("L")}Z`, unit),
    numeral(pile.centre[0], pile.centre[1], pile.number, unit)]));
}
$("picture").addEventListener("load", () => result && marks());
addEventListener("resize", () => result && marks());

/** A pile as it is said to be, null where it is left out. */
function said(li) {
  const number = Number(li.dataset.number);
  const chosen = li.querySelector("select").value;
  const words = (name) => li.querySelector(`[name=${name}]`)?.value.trim() ?? "";
  if (!chosen) return null;
  if (chosen === NEW) return { number, id: words("id"), name: words("name"), lot: words("lot") };
  const bead = byRow(Number(chosen === OTHER ? li.querySelector(".about-pile").dataset.row : chosen));
  const replace = li.querySelector("[name=replace]");
  return bead && (!replace || replace.checked) ? { number, id: bead.id, row: bead.row, replace: Boolean(replace) } : null;
}

async function write(further) {
  const piles = [...document.querySelectorAll(".pile")].map(said).filter(Boolean);
  refused(null);
  if (!piles.length) { refused("Say of at least one pile which bead it is."); return; }
  try {
    const size = $("piles").elements.size.value;
    const done = await ask(`/api/photos/${id}/piles`, { method: "POST", json: { size, piles, further } });
    const told = [["added", "added"], ["filled", "given their colour"], ["replaced", "given a new colour, the old one kept"]]
      .filter(([kind]) => done[kind].length).map(([kind, says]) => `${done[kind].length} bead${done[kind].length === 1 ? "" : "s"} ${says}: ${done[kind].join(", ")}`);
    fill($("added"), `${told.join("; ")}. `, done.columns.length ? `Columns added: ${done.columns.join(", ")}. ` : "", h("a", { href: "/drawer" }, "See them in the drawer, where it can be undone."));
    say("Written into your list.");
    written = true;
    picks = await ask(`/api/photos/${id}/picks`);
    $("columns").textContent = "";
    fill($("pile-list"), result.piles.filter((pile) => !piles.some((one) => one.number === pile.number)).map(card));
  } catch (error) {
    refused(error.message, error.kind === "further");
  }
}

function refused(text, further = false) {
  $("refused").hidden = !text;
  $("refused").querySelector("p").textContent = text ?? "";
  $("further").hidden = !further;
}

$("piles").addEventListener("submit", (event) => { event.preventDefault(); write(false); });
$("further").addEventListener("click", () => write(true));

const waiting = follow(id, show);
