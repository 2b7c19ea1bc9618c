// A tray photo: its piles, named and added to the list.
import { $, ask, cardQuestion, chip, fill, follow, h, numeral, say, stages, thin } from "./kit.js";

const id = $("tray").dataset.photo;
const showStage = stages(id, () => waiting);
let result = null;

function show(told) {
  showStage(told);
  $("name").textContent = told.name;
  if (!told.result) return;
  result = told.result;
  $("measured").hidden = false;
  $("sure").textContent = result.calibration.says;
  cardQuestion(id, result.calibration, told.wishes, () => waiting.again());
  $("picture").src = `/api/photos/${id}/picture?${told.version}`;
  fill($("pile-list"), result.piles.map(card));
  fill($("notes"), [...result.photo.notes, ...result.calibration.notes, ...result.notes].map((note) => h("li", {}, note)));
}

function card(pile) {
  const made = pile.name.replaceAll(" ", "-");
  const same = result.piles.filter((other) => other.number < pile.number && other.name === pile.name).length;
  const own = `${made}${same ? `-${same + 1}` : ""}`;
  return h("li", { class: "pile", "data-number": pile.number },
    h("div", { class: "measured" }, chip(pile, pile.name),
      h("p", { class: "small" }, h("b", {}, `${pile.number} · ${pile.name}`), `${pile.hex}, sure to ±${pile.uncertainty_de00.toFixed(1)}; looks ${pile.finish}`)),
    h("label", { class: "tick" }, h("input", { type: "checkbox", checked: true, "aria-label": `Add pile ${pile.number}` }), "into the list"),
    ...[["id", own], ["name", own.replaceAll("-", " ")], ["lot", ""]].map(([name, value]) => h("label", {}, name, h("input", { name, value, autocomplete: "off" }))));
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

$("piles").addEventListener("submit", async (event) => {
  event.preventDefault();
  const piles = [...document.querySelectorAll(".pile")].filter((li) => li.querySelector("[type=checkbox]").checked).map((li) => ({
    number: Number(li.dataset.number),
    ...Object.fromEntries(["id", "name", "lot"].map((name) => [name, li.querySelector(`[name=${name}]`).value.trim()])),
  }));
  const refused = (text) => { $("refused").hidden = !text; $("refused").querySelector("p").textContent = text ?? ""; };
  if (!piles.length) { refused("Tick at least one pile."); return; }
  try {
    const { added } = await ask(`/api/photos/${id}/piles`, { method: "POST", json: { size: event.target.elements.size.value, piles } });
    refused(null);
    fill($("added"), `${added.length} beads added: ${added.join(", ")}. `, h("a", { href: "/drawer" }, "See them in the drawer, where it can be undone."));
    say("Added to your list.");
  } catch (error) {
    refused(error.message);
  }
});

const waiting = follow(id, show);
